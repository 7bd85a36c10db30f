"""The words of the answer to each question, a file a question: read when that question is asked."""

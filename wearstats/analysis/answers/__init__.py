"""When owners who are asked answer: by the time since they last did, or on common rounds."""

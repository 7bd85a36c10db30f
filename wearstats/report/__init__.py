"""How it is shown: charts, sentences, pages and sheets."""

"""The command line: each command reads its words, asks one question and shows the answer."""

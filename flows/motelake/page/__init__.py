"""The page and its pictures: answers of the library as things to look at, without a network or a server."""

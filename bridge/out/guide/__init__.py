"""The guide: the song as a click and one sound a layer, computed block by block."""

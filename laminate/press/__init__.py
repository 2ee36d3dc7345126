"""One zone of a part before molding: what lies in it, its gap cold and hot, its core."""

"""What a notebook or another program calls: plain values in, answers out that show themselves."""

"""Coupons after molding: what they are made of, how they were measured, what their readings say and hide."""

"""Pure arithmetic of the molding shop, one file a subject, in coherent SI units and absolute temperatures.

Every function takes keyword arguments alone and plain arithmetic: floats, numpy arrays, complex numbers (the
complex step gives exact derivatives) and, where only + - * / ** are needed, numbers with uncertainty.
"""

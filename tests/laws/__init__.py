"""Laws of vibration that hold for every structure, tried on drawn ones."""

"""The pages: widgets in, one call, result out."""

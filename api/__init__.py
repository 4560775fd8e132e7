"""The JSON API: a thin web layer over what `ringset` exports."""

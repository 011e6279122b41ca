"""Pictures of results: declared once, written as SVG, PNG or JSON."""

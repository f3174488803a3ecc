"""Pictures of the report: SVG within the page, drawn by matplotlib, coloured and lettered by the page's own style."""

"""How Sphinx builds the manual; the reference pages are written from the code first."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import generate  # noqa: E402

from quarterjack import __version__  # noqa: E402

project = "quarterjack"
author = "the makers of quarterjack"
copyright = "the makers of quarterjack; Apache-2.0"
version = release = __version__

extensions = ["myst_parser"]
myst_enable_extensions = ["deflist"]
myst_heading_anchors = 3
exclude_patterns = ["_build"]
nitpicky = True

html_theme = "alabaster"
html_theme_options = {
    "description": "What a clock should do, what it does, and why the two differ.",
    "font_family": "Georgia, 'DejaVu Serif', serif",
    "head_font_family": "Georgia, 'DejaVu Serif', serif",
    "show_powered_by": False,
    "page_width": "1060px",
}
html_sidebars = {"**": ["about.html", "navigation.html", "searchbox.html"]}
html_show_sourcelink = False

generate.write_pages(HERE / "reference" / "made")

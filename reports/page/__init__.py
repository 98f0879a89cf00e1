"""report.html and backtest.html: templates, style, script, and what fills them."""

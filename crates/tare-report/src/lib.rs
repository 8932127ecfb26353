//! Charts as SVG and the self-contained HTML report.

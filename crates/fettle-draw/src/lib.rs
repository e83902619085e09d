//! Plots and drawings as SVG.

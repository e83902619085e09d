//! Documents as PDF through Typst.

//! The invented scenario: a bench in Saltmere, made from a seed.

//! The bench book for people who repair mechanical cameras.

fn main() {}

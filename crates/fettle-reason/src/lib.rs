//! Inference under uncertainty over the service notes.

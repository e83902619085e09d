//! Signal generator: recordings of shutters that never were, with the truth beside them.

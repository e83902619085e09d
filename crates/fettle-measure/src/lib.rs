//! Physics of the instruments: quantities with units, shutter recordings, signal generator.

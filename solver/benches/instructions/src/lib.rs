//! Only here so that the package has a target besides its bench.

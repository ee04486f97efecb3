//! The wiring language and the harness model.

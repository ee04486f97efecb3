//! Storage of guitars that are done with, for the next: what is in it never shows in what it is used for.

use std::sync::{Mutex, MutexGuard, PoisonError};

#[derive(Debug)]
pub(crate) struct Pool<T>(Mutex<Vec<T>>);

impl<T> Default for Pool<T> {
    fn default() -> Self {
        Pool(Mutex::default())
    }
}

/// An empty one.
impl<T> Clone for Pool<T> {
    fn clone(&self) -> Self {
        Pool::default()
    }
}

impl<T> Pool<T> {
    pub(crate) fn take(&self) -> Option<T> {
        self.list().pop()
    }

    pub(crate) fn give(&self, storage: T) {
        self.list().push(storage);
    }

    fn list(&self) -> MutexGuard<'_, Vec<T>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

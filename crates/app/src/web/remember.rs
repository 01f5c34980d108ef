//! An answer that takes long, kept for as long as the same is asked.

use std::sync::{Mutex, PoisonError};

/// The last answer, and to what. Whoever asks the same while it is being worked out waits for it.
pub struct Remembered<K, V>(Mutex<Option<(K, V)>>);

impl<K, V> Default for Remembered<K, V> {
    fn default() -> Remembered<K, V> {
        Remembered(Mutex::new(None))
    }
}

impl<K: PartialEq, V: Clone> Remembered<K, V> {
    /// The answer to `asked`: the one that is kept, or one made now. What is refused is not kept.
    ///
    /// # Errors
    /// Those of `make`.
    pub fn get<E>(&self, asked: K, make: impl FnOnce(&K) -> Result<V, E>) -> Result<V, E> {
        // A panic of another thread leaves the answer before, whole.
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((of, answer)) = held.as_ref()
            && *of == asked
        {
            return Ok(answer.clone());
        }
        let made = make(&asked)?;
        *held = Some((asked, made.clone()));
        Ok(made)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_question_is_answered_once_and_a_refusal_is_asked_again() {
        let kept = Remembered::default();
        let mut made_count = 0;
        let mut ask = |of: &str, fine: bool| {
            kept.get(of.to_string(), |of| {
                made_count += 1;
                if fine { Ok(of.len()) } else { Err("no") }
            })
            .map(|length| (length, made_count))
        };
        assert_eq!(ask("far", true), Ok((3, 1)));
        assert_eq!(ask("far", true), Ok((3, 1)));
        assert_eq!(ask("near", true), Ok((4, 2)));
        assert_eq!(ask("far", false), Err("no"));
        assert_eq!(ask("far", true), Ok((3, 4)));
    }
}

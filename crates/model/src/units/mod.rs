//! Text with a unit to SI, and SI to text.

//! What is drawn and printed: results in, text out.

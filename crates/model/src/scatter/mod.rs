//! Why throws differ: what varies from throw to throw, sent through the whole chain.

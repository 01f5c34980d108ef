//! Running text of a width.

/// Text wrapped to a width, each further line indented.
pub fn wrap(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut used = 0;
    for word in text.split_whitespace() {
        let w = word.chars().count();
        if used > 0 && used + 1 + w > width {
            out.push('\n');
            out.push_str(indent);
            used = 0;
        } else if used > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += w;
    }
    out
}

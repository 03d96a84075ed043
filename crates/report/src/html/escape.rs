//! Texts that HTML, SVG and XML show as they are.

use secondmelt_record::contract::visible;

/// A text between tags. What would hide or turn text is made visible; XML 1.0, section 2.2,
/// allows no control characters, not even escaped.
pub(crate) fn text(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len() + 8);
    for c in visible(raw).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Not characters (Unicode 16.0, 23.7).
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// A text in the quotes of an attribute: what is safe between tags is safe there.
pub(crate) fn attribute(raw: &str) -> String {
    text(raw)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_and_hidden_characters_are_shown() {
        assert_eq!(
            text("<script>alert('1' & \"2\")</script>"),
            "&lt;script&gt;alert(&#39;1&#39; &amp; &quot;2&quot;)&lt;/script&gt;"
        );
        assert_eq!(text("a\u{202e}b\nc\u{0}\u{ffff}"), "a\\u{202e}b\\u{a}c\\u{0}\u{fffd}");
    }
}

//! The frame of the few pages that stand without templates: the start page and the problem pages.

use std::fmt::{self, Write};

use axum::response::Html;

/// `main` is markup; whatever in it comes from outside must go through [`Escaped`].
pub(crate) fn page(title: &str, main: &str) -> Html<String> {
    Html(format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{whole}</title>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{main}\n</main>\n\
         </body>\n</html>\n",
        title = Escaped(title),
        whole = Escaped(&if title == NAME {
            NAME.to_owned()
        } else {
            format!("{title} - {NAME}")
        }),
    ))
}

const NAME: &str = "Coolant Ledger";

/// What is said first on a page of invented figures; nothing on a real record.
pub(crate) fn marked(mark: &str) -> String {
    if mark.is_empty() {
        String::new()
    } else {
        format!("<p><strong>{}</strong></p>\n", Escaped(mark))
    }
}

/// A detail such as "nothing was found; look again" as a sentence on a page.
pub(crate) fn sentence(detail: &str) -> String {
    let mut rest = detail.chars();
    let mut sentence: String = rest
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    sentence.push_str(rest.as_str());
    if !sentence.ends_with(['.', '?', '!']) {
        sentence.push('.');
    }
    sentence
}

/// Text made safe for element content and quoted attributes.
pub(crate) struct Escaped<'a>(pub(crate) &'a str);

impl fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                other => f.write_char(other)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::{Escaped, sentence};

    #[test]
    fn text_from_outside_cannot_become_markup() {
        assert_eq!(
            Escaped("<b a='1' c=\"2\">&</b>").to_string(),
            "&lt;b a=&#39;1&#39; c=&quot;2&quot;&gt;&amp;&lt;/b&gt;"
        );
    }

    #[test]
    fn a_detail_becomes_a_sentence() {
        assert_eq!(sentence("öl is found; drain it"), "Öl is found; drain it.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(sentence(""), ".");
    }
}

//! A form as somebody at a browser fills it in: every field that the page has, changed one by one.

use super::browser::unescaped;
use super::shop::{As, Shop};
use crate::client::Answer;

/// A form that was opened.
#[derive(Clone, Debug)]
pub(crate) struct Form {
    pub(crate) path: String,
    pub(crate) fields: Vec<(String, String)>,
}

impl Form {
    /// Opens the page at an address whose form is sent to `path`.
    pub(crate) fn open(shop: &Shop, who: As, path: &str) -> Self {
        let answer = shop.get(who, path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        let path = path.split('?').next().unwrap();
        Self::on(path, &answer)
    }

    /// The form of a page that was answered.
    pub(crate) fn on(path: &str, answer: &Answer) -> Self {
        Self {
            path: path.to_owned(),
            fields: fields(&answer.body, &format!("action=\"{path}\"")),
        }
    }

    pub(crate) fn get(&self, name: &str) -> &str {
        let found = self.fields.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value)
    }

    pub(crate) fn names(&self) -> Vec<String> {
        self.fields.iter().map(|(name, _)| name.clone()).collect()
    }

    /// Types into a field, chooses an answer, ticks a box or presses a button of that name.
    pub(crate) fn with(&self, name: &str, value: &str) -> Self {
        let mut form = self.clone();
        form.fields.retain(|(known, _)| known != name);
        form.fields.push((name.to_owned(), value.to_owned()));
        form
    }

    pub(crate) fn with_all(&self, values: &[(&str, &str)]) -> Self {
        values
            .iter()
            .fold(self.clone(), |form, (name, value)| form.with(name, value))
    }

    pub(crate) fn send(&self, shop: &Shop, who: As) -> Answer {
        let fields: Vec<(&str, &str)> = self
            .fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        shop.post(who, &self.path, &fields)
    }

    /// Sends it and hands back where the answer leads.
    pub(crate) fn saved(&self, shop: &Shop, who: As) -> String {
        let answer = self.send(shop, who);
        assert_eq!(
            answer.status,
            303,
            "{:?}: {:?}",
            self.fields,
            problems(&answer.body)
        );
        answer.header("location").unwrap().to_owned()
    }

    /// Sends it, sees it refused with what was typed kept and nothing written, and hands back the
    /// problems that the page names.
    pub(crate) fn refused(&self, shop: &Shop, who: As) -> Vec<String> {
        let facts = shop.facts();
        let answer = self.send(shop, who);
        assert_eq!(answer.status, 422, "{:?}: {}", self.fields, answer.body);
        assert_eq!(shop.facts(), facts, "nothing is written");
        assert!(
            answer.body.contains("<title>Not saved: "),
            "{}",
            answer.body
        );
        let again = Self::on(&self.path, &answer);
        for (name, value) in &self.fields {
            // No page can carry U+0000.
            let kept = value.replace('\0', "\u{FFFD}");
            assert_eq!(again.get(name), kept, "{name} is kept");
        }
        problems(&answer.body)
    }
}

/// The problems in the box above a form.
pub(crate) fn problems(html: &str) -> Vec<String> {
    let Some(all) = html.split("id=\"problems\"").nth(1) else {
        return Vec::new();
    };
    let list = all.split("</ul>").next().unwrap();
    list.split("<li>").skip(1).map(text).collect()
}

/// A page without its markup, a blank between parts.
pub(crate) fn text(html: &str) -> String {
    let mut words = String::new();
    let mut inside = false;
    for letter in html.chars() {
        match letter {
            '<' => inside = true,
            '>' => {
                inside = false;
                words.push(' ');
            }
            _ if !inside => words.push(letter),
            _ => {}
        }
    }
    let words: Vec<String> = unescaped(&words)
        .split_whitespace()
        .map(str::to_owned)
        .collect();
    words.join(" ")
}

/// What a browser would send of a form: what is typed, chosen and ticked.
fn fields(html: &str, start: &str) -> Vec<(String, String)> {
    let form = html.split(start).nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let mut fields = Vec::new();
    for (at, _) in form.match_indices('<') {
        let tag = form[at + 1..].split('>').next().unwrap();
        let Some(name) = attribute(tag, "name") else {
            continue;
        };
        let inside = form[at + 1..].split_once('>').unwrap().1;
        if tag.starts_with("input") {
            let choice = tag.contains("type=\"radio\"") || tag.contains("type=\"checkbox\"");
            if !choice || tag.ends_with(" checked") {
                fields.push((name, attribute(tag, "value").unwrap_or_default()));
            }
        } else if tag.starts_with("textarea") {
            let inside = inside.split("</textarea>").next().unwrap();
            let inside = inside.strip_prefix('\n').unwrap_or(inside);
            fields.push((name, unescaped(inside)));
        } else if tag.starts_with("select") {
            fields.push((name, chosen(inside.split("</select>").next().unwrap())));
        }
    }
    fields
}

fn chosen(options: &str) -> String {
    let options: Vec<&str> = options
        .split("<option")
        .skip(1)
        .map(|option| option.split('>').next().unwrap())
        .collect();
    let chosen = options.iter().find(|option| option.ends_with(" selected"));
    let chosen = chosen.or(options.first()).unwrap();
    attribute(chosen, "value").unwrap_or_default()
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let value = tag.split(&format!(" {name}=\"")).nth(1)?;
    value.split('"').next().map(unescaped)
}

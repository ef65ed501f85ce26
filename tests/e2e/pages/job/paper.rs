//! A job's form as somebody at a browser fills it in: every field that the page has, changed one by
//! one.

use domain::fact::What;
use domain::gate::Breach;
use domain::ids::{FactKey, PlaceId};
use domain::job::Job;
use storage::{JobRow, PlaceContents};
use uuid::Uuid;

use crate::client::Answer;
use crate::pages::browser::{encoded, unescaped};
use crate::pages::shop::{As, Shop};

/// A form that was opened.
#[derive(Clone, Debug)]
pub(crate) struct Paper {
    pub(crate) path: String,
    pub(crate) fields: Vec<(String, String)>,
}

impl Paper {
    /// Opens a kind of job on a unit.
    pub(crate) fn on_unit(shop: &Shop, who: As, (unit, kind): (&str, &str)) -> Self {
        Self::open(shop, who, &unit_path(shop, unit, kind))
    }

    /// Opens a kind of job on a vessel.
    pub(crate) fn on_vessel(shop: &Shop, who: As, (vessel, kind): (&str, &str)) -> Self {
        Self::open(shop, who, &vessel_path(shop, vessel, kind))
    }

    pub(crate) fn open(shop: &Shop, who: As, path: &str) -> Self {
        let answer = shop.get(who, path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        Self {
            path: path.to_owned(),
            fields: fields(&answer.body),
        }
    }

    /// The form as a page shows it after it was refused or looked ahead.
    pub(crate) fn shown_again(&self, answer: &Answer) -> Self {
        Self {
            path: self.path.clone(),
            fields: fields(&answer.body),
        }
    }

    pub(crate) fn get(&self, name: &str) -> &str {
        let found = self.fields.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value)
    }

    /// Types into a field, chooses an answer or ticks a box.
    pub(crate) fn with(&self, name: &str, value: &str) -> Self {
        let mut fields = self.fields.clone();
        fields.retain(|(known, _)| known != name);
        fields.push((name.to_owned(), value.to_owned()));
        Self {
            path: self.path.clone(),
            fields,
        }
    }

    /// It has already happened, and why.
    pub(crate) fn happened(&self) -> Self {
        self.with_all(&[("happened", "yes"), ("note", "nothing else was at hand")])
    }

    pub(crate) fn with_all(&self, values: &[(&str, &str)]) -> Self {
        values
            .iter()
            .fold(self.clone(), |paper, (name, value)| paper.with(name, value))
    }

    /// Ticks one more box of a question.
    pub(crate) fn and(&self, name: &str, value: &str) -> Self {
        let mut paper = self.clone();
        paper.fields.push((name.to_owned(), value.to_owned()));
        paper
    }

    /// Leaves a field out altogether.
    pub(crate) fn without(&self, name: &str) -> Self {
        let mut paper = self.clone();
        paper.fields.retain(|(known, _)| known != name);
        paper
    }

    pub(crate) fn send(&self, shop: &Shop, who: As) -> Answer {
        let fields: Vec<(&str, &str)> = self
            .fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        shop.post(who, &self.path, &fields)
    }

    /// The fields as they travel, one of them given as it is.
    pub(crate) fn travelling(&self, name: &str, raw: &str) -> String {
        let others = self.without(name);
        let fields: Vec<(&str, &str)> = others
            .fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        format!(
            "{}&{}={raw}",
            encoded(&fields),
            encoded(&[(name, "")]).trim_end_matches('=')
        )
    }

    /// Sends it and finds the job on record.
    pub(crate) fn saved(&self, shop: &Shop, who: As) -> Saved {
        let answer = self.send(shop, who);
        assert_eq!(
            answer.status,
            303,
            "{:?}: {}",
            self.fields,
            problems(&answer.body).join("\n")
        );
        let key = self.get("key");
        assert_eq!(
            answer.header("location"),
            Some(format!("/jobs/{key}").as_str())
        );
        Saved::find(shop, key)
    }

    /// Sends it, sees it refused with nothing written, and hands back the problems it names.
    pub(crate) fn refused(&self, shop: &Shop, who: As) -> Vec<String> {
        let facts = shop.facts();
        let answer = self.send(shop, who);
        assert_eq!(answer.status, 422, "{}", answer.body);
        assert_eq!(shop.facts(), facts, "nothing is written");
        assert!(
            answer.body.contains("<title>Not saved: "),
            "{}",
            answer.body
        );
        let again = self.shown_again(&answer);
        for (name, value) in &self.fields {
            // What is not offered cannot stay chosen.
            let chosen = Uuid::parse_str(value).is_ok() || name.ends_with("[]");
            assert!(chosen || again.get(name) == value, "{name} keeps {value}");
        }
        problems(&answer.body)
    }
}

/// A job on record with what the book made of it.
#[derive(Debug)]
pub(crate) struct Saved {
    pub(crate) job: Job,
    pub(crate) row: JobRow,
    /// Kind of question, line, found, expected.
    pub(crate) asked: Vec<(String, i64, i64)>,
}

impl Saved {
    pub(crate) fn find(shop: &Shop, key: &str) -> Self {
        let key = FactKey(Uuid::parse_str(key).unwrap());
        shop.read(async |read| {
            let row = read.find_job(key).await.unwrap().unwrap();
            let fact = read.find_fact(key).await.unwrap().unwrap().fact().unwrap();
            let What::Job(job) = fact.what else {
                panic!("{key} is no job");
            };
            let questions = read.list_questions_of_fact(key).await.unwrap();
            let asked = questions.iter().map(|question| {
                (
                    question.id.kind.code().to_owned(),
                    question.found,
                    question.expected,
                )
            });
            Self {
                job,
                row,
                asked: asked.collect(),
            }
        })
    }

    pub(crate) fn kinds_asked(&self) -> Vec<&str> {
        self.asked.iter().map(|(kind, ..)| kind.as_str()).collect()
    }

    /// The gates that were passed over.
    pub(crate) fn breaches(&self) -> Vec<Breach> {
        let codes = self.job.cautions.iter();
        codes.map(|code| Breach::from_code(code).unwrap()).collect()
    }
}

/// What a place holds: "3301", "2203 battery", "Cart A".
pub(crate) fn contents(shop: &Shop, name: &str) -> PlaceContents {
    let all = shop.read(async |read| read.list_contents().await.unwrap());
    let found = all
        .into_iter()
        .find(|held| match (&held.unit_number, &held.name) {
            (Some(number), Some(own)) => name == number || name == format!("{number} {own}"),
            (None, Some(own)) => name == own,
            _ => false,
        });
    found.unwrap_or_else(|| panic!("no {name}"))
}

pub(crate) fn place(shop: &Shop, name: &str) -> PlaceId {
    contents(shop, name).place
}

pub(crate) fn unit_path(shop: &Shop, unit: &str, kind: &str) -> String {
    let unit = contents(shop, unit).unit.unwrap();
    format!("/units/{unit}/jobs/{kind}")
}

pub(crate) fn vessel_path(shop: &Shop, vessel: &str, kind: &str) -> String {
    format!("/vessels/{}/jobs/{kind}", place(shop, vessel))
}

/// The fluid of the shop's list with a name.
pub(crate) fn fluid(shop: &Shop, name: &str) -> String {
    let all = shop.read(async |read| read.list_fluids().await.unwrap());
    all.iter()
        .find(|fluid| fluid.name == name)
        .unwrap()
        .id
        .to_string()
}

/// The problems in the box above a form.
pub(crate) fn problems(html: &str) -> Vec<String> {
    let Some(all) = html.split("class=\"problems\"").nth(1) else {
        return Vec::new();
    };
    let list = all.split("</ul>").next().unwrap();
    list.split("<li>")
        .skip(1)
        .map(|item| unescaped(&without_tags(item)))
        .collect()
}

/// A page without its markup, a blank between parts.
pub(crate) fn text(html: &str) -> String {
    let words: Vec<String> = unescaped(&without_tags(&html.replace('<', " <")))
        .split_whitespace()
        .map(str::to_owned)
        .collect();
    words.join(" ")
}

fn without_tags(html: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for letter in html.chars() {
        match letter {
            '<' => inside = true,
            '>' => inside = false,
            _ if !inside => text.push(letter),
            _ => {}
        }
    }
    text.trim().to_owned()
}

/// What a browser would send of the form of a job: what is typed, chosen and ticked.
fn fields(html: &str) -> Vec<(String, String)> {
    let form = html.split("<form id=\"job\"").nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let mut fields = Vec::new();
    for (at, _) in form.match_indices('<') {
        let tag = form[at + 1..].split('>').next().unwrap();
        let Some(name) = attribute(tag, "name") else {
            continue;
        };
        let rest = form[at + 1..].split_once('>').unwrap().1;
        if tag.starts_with("input") {
            let choice = tag.contains("type=\"radio\"") || tag.contains("type=\"checkbox\"");
            if !choice || tag.ends_with(" checked") {
                fields.push((name, attribute(tag, "value").unwrap_or_default()));
            }
        } else if tag.starts_with("textarea") {
            let inside = rest.split("</textarea>").next().unwrap();
            fields.push((name, unescaped(inside.trim_start_matches('\n'))));
        } else if tag.starts_with("select") {
            let inside = rest.split("</select>").next().unwrap();
            let options: Vec<&str> = inside
                .split("<option")
                .skip(1)
                .map(|option| option.split('>').next().unwrap())
                .collect();
            let chosen = options
                .iter()
                .find(|option| option.ends_with(" selected"))
                .or(options.first());
            fields.push((
                name,
                chosen
                    .and_then(|option| attribute(option, "value"))
                    .unwrap_or_default(),
            ));
        }
    }
    fields
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let value = tag.split(&format!(" {name}=\"")).nth(1)?;
    value.split('"').next().map(unescaped)
}

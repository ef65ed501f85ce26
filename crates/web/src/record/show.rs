//! GET /records/{seq}: one fact, from what it was to what it is, and as it is stored.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::Path;
use axum::response::Response;
use domain::fact::{Fact, What};
use domain::fleet::Role;
use domain::ids::PersonId;
use domain::moment::Moment;
use storage::{Read, Row};

use super::card::{Cards, Field};
use super::list::find_meant;
use super::scope::may_see;
use super::words::{kind_word, number, proved_word, via_word};
use super::{Names, Wanted, fields};
use crate::desk::{Desk, Frame, role_word};
use crate::{WebError, figure, page};

#[derive(Template)]
#[template(path = "record/show.html")]
struct FactPage {
    frame: Frame,
    heading: String,
    about: Vec<Field>,
    changes: Vec<Change>,
    /// The event the change is held against.
    before: Option<(i64, String)>,
    /// The page of the job it is, or is about.
    job: Option<String>,
    meant: Option<(i64, String)>,
    stored: Vec<Field>,
    body: String,
    newer: Option<i64>,
    older: Option<i64>,
}

/// One field before and after.
#[derive(Debug, PartialEq, Eq)]
struct Change {
    label: String,
    from: String,
    to: String,
    is_changed: bool,
}

/// GET /records/{seq}
pub(crate) async fn show(desk: Desk, Path(seq): Path<String>) -> Result<Response, WebError> {
    let seq: i64 = seq.parse().map_err(|_| WebError::NotFound)?;
    let mut read = desk.read().await?;
    let row = find(&desk, &mut read, seq)
        .await?
        .ok_or(WebError::NotFound)?;
    let fact = row.fact().map_err(WebError::fault)?;
    let mut wanted = Wanted::default();
    fields::want(&mut wanted, &fact);
    wanted.people.extend(row.person.map(PersonId));
    let meant = match fields::fact_meant(&fact.what) {
        Some(key) => find_meant(&mut read, key, &mut wanted).await?,
        None => None,
    };
    let earlier = find_earlier(&mut read, &fact, seq).await?;
    if let Some((_, earlier)) = &earlier {
        fields::want(&mut wanted, earlier);
    }
    let names = Names::of(&mut read, wanted).await?;
    let cards = Cards {
        units: desk.units(),
        names: &names,
    };
    let said = meant
        .as_ref()
        .map(|(seq, fact)| fields::meant(cards, *seq, fact));
    let now = fields::all(cards, &fact, said.clone());
    let then = earlier
        .as_ref()
        .map(|(_, fact)| fields::all(cards, fact, None));
    let heading = heading(&desk, &names, (&row, &fact), said.clone());
    let page = FactPage {
        frame: desk.frame(heading.clone()),
        heading,
        about: about(&desk, &names, &row, &fact),
        changes: changes(then, now),
        before: earlier.map(|(seq, _)| (seq, number(desk.units(), seq))),
        job: matches!(fact.what, What::Job(_)).then(|| format!("/jobs/{}", row.key)),
        meant: meant.map(|(seq, _)| seq).zip(said),
        stored: stored(&row),
        body: row.body.clone(),
        newer: find(&desk, &mut read, seq.saturating_add(1))
            .await?
            .map(|row| row.seq),
        older: find(&desk, &mut read, seq.saturating_sub(1))
            .await?
            .map(|row| row.seq),
    };
    Ok(page::shown(&page))
}

async fn find(desk: &Desk, read: &mut Read, seq: i64) -> Result<Option<Row>, WebError> {
    let row = read.find_fact_at(seq).await.map_err(WebError::fault)?;
    Ok(row.filter(|row| may_see(desk, row)))
}

/// The card before this one. Facts that a person recorded are about that person too, so what is
/// found may be a card of somebody else.
async fn find_earlier(
    read: &mut Read,
    fact: &Fact,
    seq: i64,
) -> Result<Option<(i64, Fact)>, WebError> {
    let Some(subject) = fields::card_subject(&fact.what) else {
        return Ok(None);
    };
    let mut before = seq;
    loop {
        let found = read
            .find_previous_fact(subject, fact.what.kind(), before)
            .await
            .map_err(WebError::fault)?;
        let Some(row) = found else {
            return Ok(None);
        };
        let earlier = row.fact().map_err(WebError::fault)?;
        if fields::card_subject(&earlier.what) == Some(subject)
            && same_place(&earlier.what, &fact.what)
        {
            return Ok(Some((row.seq, earlier)));
        }
        before = row.seq;
    }
}

/// Roles in one shop do not take the place of roles in another.
fn same_place(earlier: &What, now: &What) -> bool {
    match (earlier, now) {
        (What::Roles(earlier), What::Roles(now)) => earlier.shop == now.shop,
        _ => true,
    }
}

fn about(desk: &Desk, names: &Names, row: &Row, fact: &Fact) -> Vec<Field> {
    let field = |label: &str, value: String| (label.to_owned(), value);
    let person = row.person.map(PersonId);
    let mut about = vec![
        field("Recorded", figure::time(Moment(row.at), desk.zone())),
        field("Happened", figure::time(fact.when.happened(), desk.zone())),
        field(
            "By",
            format!(
                "{}, {}",
                names.person(person.or(fact.by.person)),
                proved_word(fact.by.proved)
            ),
        ),
    ];
    if person.is_some() && person != fact.by.person {
        about.push(field("Done by", names.person(fact.by.person)));
    }
    if let Some(role) = &row.role {
        about.push(field("In the role of", role_in_words(role)));
    }
    if let Some(reason) = fields::reason(&fact.what) {
        about.push(field("Reason", names.text(reason, "reason removed")));
    }
    about.push(field("Came in through", via_word(&row.via).to_owned()));
    let shop = row.shop.map(domain::ids::ShopId);
    about.push(field(
        "Shop",
        shop.map_or_else(|| "none".to_owned(), |shop| names.shop(shop)),
    ));
    about
}

/// A role by its code; one of a later program stays as it is.
fn role_in_words(code: &str) -> String {
    let role: Option<Role> = serde_json::from_value(code.into()).ok();
    role.map_or_else(|| code.to_owned(), |role| role_word(role).to_owned())
}

/// "Event 1,961: unit 4512", "Event 1,998: top up 3301".
fn heading(
    desk: &Desk,
    names: &Names,
    (row, fact): (&Row, &Fact),
    meant: Option<String>,
) -> String {
    let event = number(desk.units(), row.seq);
    let subject = fields::subject(names, fact, meant);
    match fact.what {
        What::Job(_) => format!("Event {event}: {subject}"),
        What::Void(_)
        | What::TextRemoved(_)
        | What::Photo(_)
        | What::PhotoRemoved(_)
        | What::Signed(_) => {
            format!("Event {event}: {} of {subject}", kind_word(&row.kind))
        }
        What::Said(_) => format!("Event {event}: said about {subject}"),
        What::Answer(_) => format!("Event {event}: answer to a question about {subject}"),
        _ => format!("Event {event}: {} {subject}", kind_word(&row.kind)),
    }
}

/// The columns of the record that are no words.
fn stored(row: &Row) -> Vec<Field> {
    let hex = |bytes: &[u8]| {
        bytes.iter().fold(String::new(), |mut text, byte| {
            text.extend(
                [byte >> 4, byte & 15]
                    .into_iter()
                    .filter_map(|half| char::from_digit(u32::from(half), 16)),
            );
            text
        })
    };
    let field = |label: &str, value: String| (label.to_owned(), value);
    vec![
        field("Key", row.key.to_string()),
        field(
            "Request",
            row.request.clone().unwrap_or_else(|| "none".to_owned()),
        ),
        field("Version of the body", row.version.to_string()),
        field("Hash of the event before", hex(&row.prev_hash)),
        field("Hash of this event", hex(&row.hash)),
    ]
}

/// Every field of both cards, in the order of the new one; what only the old one has comes last.
fn changes(then: Option<Vec<Field>>, now: Vec<Field>) -> Vec<Change> {
    let is_first = then.is_none();
    let mut before: BTreeMap<String, String> = then.iter().flatten().cloned().collect();
    let order: Vec<String> = then.into_iter().flatten().map(|(label, _)| label).collect();
    let mut all: Vec<Change> = now
        .into_iter()
        .map(|(label, to)| {
            let from = before.remove(&label);
            Change {
                is_changed: !is_first && from.as_ref() != Some(&to),
                from: from.unwrap_or_default(),
                label,
                to,
            }
        })
        .collect();
    for label in order {
        if let Some(from) = before.remove(&label) {
            all.push(Change {
                label,
                from,
                to: String::new(),
                is_changed: true,
            });
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::{Change, changes};

    fn fields(fields: &[(&str, &str)]) -> Vec<(String, String)> {
        fields
            .iter()
            .map(|(label, value)| ((*label).to_owned(), (*value).to_owned()))
            .collect()
    }

    fn change(label: &str, from: &str, to: &str, is_changed: bool) -> Change {
        Change {
            label: label.to_owned(),
            from: from.to_owned(),
            to: to.to_owned(),
            is_changed,
        }
    }

    #[test]
    fn a_card_is_held_against_the_one_before_field_by_field() {
        let then = fields(&[
            ("Number", "4204"),
            ("Loop 1, capacity", "40 L"),
            ("Loop 2, name", "battery"),
        ]);
        let now = fields(&[
            ("Number", "4204"),
            ("Loop 1, capacity", "42 L"),
            ("Reason", "measured"),
        ]);
        assert_eq!(
            changes(Some(then), now),
            [
                change("Number", "4204", "4204", false),
                change("Loop 1, capacity", "40 L", "42 L", true),
                change("Reason", "", "measured", true),
                change("Loop 2, name", "battery", "", true),
            ]
        );
        let first = changes(None, fields(&[("Number", "4204")]));
        assert_eq!(first, [change("Number", "", "4204", false)]);
    }
}

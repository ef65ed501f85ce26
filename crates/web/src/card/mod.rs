//! Cards of units, vessels, people, shops, fluids and instruments: how one is changed without putting
//! it over another's change unseen, and the page on which that is done.
//!
//! A change is keyed by the card it was made on: two people who change the same card collide there,
//! and the second is shown what the first one did.

mod sheet;

pub(crate) use sheet::{Added, Part, Sheet, new_form, read_key};

use axum::http::StatusCode;
use domain::fact::{Fact, What};
use domain::fleet::Role;
use domain::ids::{FactKey, PersonId};
use domain::moment::{Moment, Precision, When};
use storage::{AppendError, Appended, Command, Read, StoredAnswer, Via};
use uuid::Uuid;

use crate::WebError;
use crate::component::ChoiceField;
use crate::desk::Desk;
use crate::figure;
use crate::form::{Form, Presence};
use crate::intake::{derived, time};

/// The last card of a subject, as a fact on record.
#[derive(Clone, Debug)]
pub(crate) struct LastCard {
    /// Its place in the record.
    pub(crate) seq: i64,
    /// Who recorded it.
    pub(crate) by: Option<PersonId>,
    /// When it takes its place.
    pub(crate) at: Moment,
}

/// The last card of a kind about a subject; none before the first.
pub(crate) async fn find_last(
    read: &mut Read,
    subject: Uuid,
    kind: &str,
) -> Result<Option<LastCard>, WebError> {
    let row = read
        .find_previous_fact(subject, kind, i64::MAX)
        .await
        .map_err(WebError::fault)?;
    let Some(row) = row else {
        return Ok(None);
    };
    let fact = row.fact().map_err(WebError::fault)?;
    Ok(Some(LastCard {
        seq: row.seq,
        by: fact.by.person,
        at: fact.when.replayed_at(Moment(row.at)),
    }))
}

/// The last card of the first of these kinds that there is one of: what is changed before there is
/// any of it, such as the roles of somebody new, stands on another card.
async fn find_last_of(
    read: &mut Read,
    subject: Uuid,
    kinds: &[&str],
) -> Result<LastCard, WebError> {
    for kind in kinds {
        if let Some(last) = find_last(read, subject, kind).await? {
            return Ok(last);
        }
    }
    Err(WebError::NotFound)
}

/// Puts a form on the last card of a subject.
pub(crate) async fn stand_on_last(
    read: &mut Read,
    (subject, kinds): (Uuid, &[&str]),
    form: &mut Form,
) -> Result<(), WebError> {
    let last = find_last_of(read, subject, kinds).await?;
    form.set("based_on", last.seq.to_string());
    Ok(())
}

/// The key of a change to the card of a kind that stands at `seq`. The kind counts, because what has
/// no card of its own yet, such as the roles of somebody new, stands on another one.
pub(crate) fn edit_key(kind: &str, subject: Uuid, seq: i64) -> FactKey {
    derived::fact_key("edit", &[kind, &subject.to_string(), &seq.to_string()])
}

/// The place of the card the form was opened on, from its hidden field.
pub(crate) fn read_based_on(form: &mut Form) -> Option<i64> {
    form.whole(("based_on", "Form"), (1, i64::MAX), Presence::Needed)
}

/// What a change can come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Saved {
    OnRecord,
    /// Somebody saved another card under this key first.
    Overtaken,
    /// It may or may not be on record.
    NotConfirmed,
}

/// A card on its way into the record.
#[derive(Clone, Debug)]
pub(crate) struct Saving {
    pub(crate) key: FactKey,
    pub(crate) what: What,
    /// It takes its place after this, whatever the clock did meanwhile: the last card counts.
    pub(crate) after: Option<Moment>,
    /// The form as it was sent: sent again, it gets the same answer.
    pub(crate) as_sent: Vec<u8>,
    /// The roles that may do this, the one to be named in the record first.
    pub(crate) acting: &'static [Role],
}

/// Records a card in this person's name.
pub(crate) async fn save(desk: &Desk, saving: Saving) -> Result<Saved, WebError> {
    Ok(said_of(append(desk, saving, None).await?))
}

/// Records what is true of the record up to `head` alone, right behind it; none where the record went
/// on meanwhile, and nothing is written.
pub(crate) async fn save_at(
    desk: &Desk,
    saving: Saving,
    head: i64,
) -> Result<Option<Saved>, WebError> {
    match append(desk, saving, Some(head)).await? {
        Err(AppendError::WentOn { .. }) => Ok(None),
        answer => Ok(Some(said_of(answer))),
    }
}

async fn append(
    desk: &Desk,
    saving: Saving,
    drawn_up_at: Option<i64>,
) -> Result<Result<Appended, AppendError>, WebError> {
    let Saving {
        key,
        what,
        after,
        as_sent,
        acting,
    } = saving;
    let fact = Fact {
        when: now_after(desk, after)?,
        by: desk.by(),
        what,
    };
    let command = Command {
        role: desk.acts_as(acting),
        as_sent: Some(as_sent),
        drawn_up_at,
        answer: Box::new(|_| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: Vec::new(),
        }),
        ..Command::plain(key, fact, Via::Form)
    };
    Ok(desk.append(command).await)
}

fn said_of(answer: Result<Appended, AppendError>) -> Saved {
    match answer {
        Ok(_) => Saved::OnRecord,
        Err(AppendError::KeyUsedForAnother { .. }) => Saved::Overtaken,
        Err(error) => {
            tracing::warn!(%error, "a card was not confirmed");
            Saved::NotConfirmed
        }
    }
}

/// Now, as the time of a fact, and after `last`.
fn now_after(desk: &Desk, last: Option<Moment>) -> Result<When, WebError> {
    let local =
        time::in_zone(desk.now(), desk.zone(), Precision::Minute).map_err(WebError::fault)?;
    let earliest = last.map_or(local.at, |last| last.plus_ms(1));
    Ok(When {
        happened_at: local.at.max(earliest),
        precision: local.precision,
        local_date: local.local_date,
        utc_offset_min: local.utc_offset_min,
        made_at: local.at,
        clock_offset_ms: 0,
    })
}

/// "P10 at 2026-10-05 07:42", for a page that says who was faster.
pub(crate) async fn who_and_when(
    desk: &Desk,
    read: &mut Read,
    last: &LastCard,
) -> Result<String, WebError> {
    let by = match last.by {
        Some(person) => read.find_person(person).await.map_err(WebError::fault)?,
        None => None,
    };
    let by = by.map_or_else(|| "somebody".to_owned(), |person| person.handle);
    Ok(format!("{by} at {}", figure::time(last.at, desk.zone())))
}

/// What a change to a card on record comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Changed {
    OnRecord,
    NotConfirmed,
    /// Somebody changed it meanwhile: who and when, and the place of their card.
    Meanwhile {
        by: String,
        seq: i64,
    },
}

/// A change to the card of a subject, made on the one that stood at `based_on`.
#[derive(Clone, Debug)]
pub(crate) struct Change {
    pub(crate) subject: Uuid,
    /// The kinds of card it may stand on, its own first.
    pub(crate) kinds: &'static [&'static str],
    pub(crate) based_on: i64,
    pub(crate) what: What,
    pub(crate) as_sent: Vec<u8>,
    /// As in [`Saving`].
    pub(crate) acting: &'static [Role],
}

/// Records a change, unless another one was made since its form was opened.
pub(crate) async fn change(desk: &Desk, change: Change) -> Result<Changed, WebError> {
    let Change {
        subject,
        kinds,
        based_on,
        what,
        as_sent,
        acting,
    } = change;
    let mut read = desk.read().await?;
    let last = find_last_of(&mut read, subject, kinds).await?;
    let key = edit_key(what.kind(), subject, based_on);
    let is_repeat = key_before(desk, key, &as_sent).await? == Before::SameForm;
    if based_on != last.seq && !is_repeat {
        let by = who_and_when(desk, &mut read, &last).await?;
        return Ok(Changed::Meanwhile { by, seq: last.seq });
    }
    drop(read);
    let saving = Saving {
        key,
        what,
        after: Some(last.at),
        as_sent,
        acting,
    };
    Ok(match save(desk, saving).await? {
        Saved::OnRecord => Changed::OnRecord,
        Saved::NotConfirmed => Changed::NotConfirmed,
        Saved::Overtaken => {
            let mut read = desk.read().await?;
            let last = find_last_of(&mut read, subject, kinds).await?;
            let by = who_and_when(desk, &mut read, &last).await?;
            Changed::Meanwhile { by, seq: last.seq }
        }
    })
}

/// What a key was used for before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Before {
    Nothing,
    /// This very form.
    SameForm,
    /// Another form; its place in the record.
    Other(i64),
}

pub(crate) async fn key_before(
    desk: &Desk,
    key: FactKey,
    as_sent: &[u8],
) -> Result<Before, WebError> {
    match desk.state.store.answered(key, as_sent).await {
        Ok(None) => Ok(Before::Nothing),
        Ok(Some(_)) => Ok(Before::SameForm),
        Err(AppendError::KeyUsedForAnother { seq }) => Ok(Before::Other(seq)),
        Err(error) => Err(WebError::fault(error)),
    }
}

/// A field in which a form and the card on record now differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Difference {
    pub(crate) label: String,
    pub(crate) on_record: String,
    pub(crate) typed: String,
}

/// Where a form that was overtaken differs from the card on record, which stands in a form of its
/// own; `fields` are names and labels.
fn differences(on_record: &Form, typed: &Form, fields: &[(&str, &str)]) -> Vec<Difference> {
    fields
        .iter()
        .map(|(name, label)| Difference {
            label: (*label).to_owned(),
            on_record: said(on_record, name),
            typed: said(typed, name),
        })
        .filter(|each| each.on_record != each.typed)
        .collect()
}

/// The same with every answer of these questions as its page words it, not as its form sends it.
fn worded<'a>(
    mut differences: Vec<Difference>,
    questions: impl IntoIterator<Item = &'a ChoiceField>,
) -> Vec<Difference> {
    for question in questions {
        let asked = differences
            .iter_mut()
            .filter(|each| each.label == question.label);
        for each in asked {
            each.on_record = answers(question, &each.on_record);
            each.typed = answers(question, &each.typed);
        }
    }
    differences
}

fn answers(question: &ChoiceField, sent: &str) -> String {
    let label = |value: &str| {
        let choice = question.choices.iter().find(|choice| choice.value == value);
        choice.map_or_else(|| value.to_owned(), |choice| choice.label.clone())
    };
    sent.split(", ").map(label).collect::<Vec<_>>().join(", ")
}

/// What a field says: all that was chosen; a bare number with the unit chosen beside it.
fn said(form: &Form, name: &str) -> String {
    let value = form.all(name).join(", ");
    let value = value.trim();
    let unit = form.typed(&format!("{name}_unit"));
    let is_bare = !value.is_empty() && value.chars().all(|letter| !letter.is_alphabetic());
    if value.is_empty() {
        "nothing".to_owned()
    } else if is_bare && !unit.is_empty() {
        format!("{value} {unit}")
    } else {
        value.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::{Difference, differences, worded};
    use crate::component::{Choice, ChoiceLook};
    use crate::form::Form;

    #[test]
    fn only_what_differs_is_told_with_units_and_all_that_was_chosen() {
        let on_record = Form::with([("name", "Cart A"), ("capacity", "200 L"), ("many[]", "a")]);
        let typed = Form::with([
            ("name", "Cart A"),
            ("capacity", "200"),
            ("capacity_unit", "US gal"),
            ("many[]", "a"),
            ("many[]", "b"),
        ]);
        let fields = [
            ("name", "Name"),
            ("capacity", "Capacity"),
            ("many[]", "Many"),
        ];
        let found = differences(&on_record, &typed, &fields);
        let told = |label: &str, on_record: &str, typed: &str| Difference {
            label: label.to_owned(),
            on_record: on_record.to_owned(),
            typed: typed.to_owned(),
        };
        assert_eq!(
            found,
            [
                told("Capacity", "200 L", "200 US gal"),
                told("Many", "a", "a, b")
            ]
        );
    }

    #[test]
    fn answers_are_told_in_the_words_of_their_page() {
        let on_record = Form::with([("many[]", "lead_hand"), ("text", "reader")]);
        let typed = Form::with([("many[]", "reader"), ("many[]", "none_of_them")]);
        let found = differences(&on_record, &typed, &[("many[]", "Many"), ("text", "Text")]);
        let choices = [
            ("lead_hand", "lead hand"),
            ("reader", "reader (reads only)"),
        ];
        let question = typed.choice_field(
            ("many[]", "Many"),
            "",
            Choice::list(&choices),
            ChoiceLook::AnyOf,
        );
        let found: Vec<_> = worded(found, [&question])
            .into_iter()
            .map(|each| (each.on_record, each.typed))
            .collect();
        let told = |on_record: &str, typed: &str| (on_record.to_owned(), typed.to_owned());
        assert_eq!(
            found,
            [
                told("lead hand", "reader (reads only), none_of_them"),
                told("reader", "nothing")
            ]
        );
    }
}

//! GET /checking: the questions of the shop that nobody has answered, the oldest job first.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::ids::{FactKey, PersonId};
use domain::moment::Moment;
use storage::QuestionAt;
use uuid::Uuid;

use super::asked::{self, Asked};
use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::desk::{Desk, Frame};
use crate::form::{Form, Presence};
use crate::record::number;
use crate::{WebError, page};

/// So many on one page.
const A_PAGE: usize = 50;
const PERSON: (&str, &str) = ("person", "Questions for");
const AFTER: (&str, &str) = ("after", "Page");

#[derive(Template)]
#[template(path = "checking/list.html")]
struct ListPage {
    frame: Frame,
    /// "12 questions wait for an answer"
    count: String,
    /// An answer that was just saved.
    answered: Option<String>,
    /// Somebody was just asked: the event.
    asked: Option<String>,
    people: ChoiceField,
    questions: Vec<Asked>,
    next: Option<String>,
    /// Not the first page, or not everybody's.
    to_all: bool,
    back_to: &'static str,
}

/// GET /checking
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let person = form.id(PERSON, Presence::Optional).map(PersonId);
    let after = read_after(form.typed(AFTER.0));
    let mut read = desk.read().await?;
    let shop = desk.shop.id;
    let waiting = read
        .count_open_questions(Some(shop))
        .await
        .map_err(WebError::fault)?;
    let most = i64::try_from(A_PAGE.saturating_add(1)).unwrap_or(i64::MAX);
    let mut found = read
        .list_oldest_open_questions((shop, person), after, most)
        .await
        .map_err(WebError::fault)?;
    let more = found.len() > A_PAGE;
    found.truncate(A_PAGE);
    let next = found
        .last()
        .filter(|_| more)
        .map(|last| next(last.at, person));
    let mut questions = asked::draw(&desk, &mut read, found).await?;
    let may_answer = asked::may_answer(&desk, &mut read, shop).await?;
    for question in &mut questions {
        question.may_answer = may_answer;
    }
    let people = read.list_people(shop).await.map_err(WebError::fault)?;
    let everybody = Choice {
        label: "everybody".to_owned(),
        ..Choice::default()
    };
    let choices = people.iter().map(|person| Choice {
        value: person.id.to_string(),
        label: person.handle.clone(),
        ..Choice::default()
    });
    let choices = std::iter::once(everybody).chain(choices).collect();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Needs checking"),
        count: count(&desk, waiting),
        answered: answered(&desk, form.typed("answered")),
        asked: answered(&desk, form.typed("asked")),
        people: form.choice_field(PERSON, "", choices, ChoiceLook::List),
        questions,
        next,
        to_all: person.is_some() || after.is_some(),
        back_to: "checking",
    }))
}

fn count(desk: &Desk, waiting: i64) -> String {
    match waiting {
        1 => "1 question waits for an answer.".to_owned(),
        waiting => format!(
            "{} questions wait for an answer.",
            number(desk.units(), waiting)
        ),
    }
}

fn answered(desk: &Desk, seq: &str) -> Option<String> {
    let seq: i64 = seq.parse().ok()?;
    Some(number(desk.units(), seq))
}

fn next(last: QuestionAt, person: Option<PersonId>) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    if let Some(person) = person {
        query.append_pair(PERSON.0, &person.to_string());
    }
    query.append_pair(
        AFTER.0,
        &format!("{}.{}.{}", last.happened_at.0, last.key, last.n),
    );
    format!("/checking?{}", query.finish())
}

/// Where a page begins; an address somebody wrote by hand begins at the first.
fn read_after(text: &str) -> Option<QuestionAt> {
    let mut parts = text.split('.');
    let at = QuestionAt {
        happened_at: Moment(parts.next()?.parse().ok()?),
        key: FactKey(Uuid::try_parse(parts.next()?).ok()?),
        n: parts.next()?.parse().ok()?,
    };
    parts.next().is_none().then_some(at)
}

#[cfg(test)]
mod tests {
    use domain::ids::FactKey;
    use domain::moment::Moment;
    use storage::QuestionAt;
    use uuid::Uuid;

    use super::{next, read_after};

    #[test]
    fn a_page_begins_where_the_one_before_ended() {
        let at = QuestionAt {
            happened_at: Moment(1_790_000_000_000),
            key: FactKey(Uuid::from_u128(7)),
            n: 2,
        };
        let address = next(at, None);
        let after = address.strip_prefix("/checking?after=").unwrap();
        assert_eq!(read_after(after), Some(at));
        for text in [
            "",
            "1.2",
            "1.x.0",
            "1.00000000-0000-0000-0000-000000000007.2.3",
        ] {
            assert_eq!(read_after(text), None, "{text}");
        }
    }
}

//! Cards that the settings keep in a list, such as `/settings/fluids`: the list, a new card, and one
//! that is changed.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::ids::FactKey;
use uuid::Uuid;

use crate::WebError;
use crate::card::{self, Added, Before, Change, Sheet};
use crate::component::Field;
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::intake::derived;
use crate::page::{self, sentence};
use crate::person::RUNS_PEOPLE;

/// A card that the settings keep in a list.
pub(crate) trait Listed: Sized + Send + Sync {
    /// What it is called, on pages and as a kind of fact.
    const WORD: &'static str;
    /// The kinds of card a change may stand on.
    const KINDS: &'static [&'static str] = &[Self::WORD];
    /// The address and the name of the list.
    const LIST: (&'static str, &'static str);
    /// A sentence above the list.
    const ABOUT: &'static str;
    /// The heads of the list, its name first.
    const COLUMNS: &'static [&'static str];
    /// The field that no two of them share.
    const NAME: (&'static str, &'static str);

    fn id(&self) -> Uuid;
    fn name(&self) -> &str;
    fn what(self) -> What;
    /// What the list says of it, in the order of the columns after the first.
    fn cells(&self, desk: &Desk) -> Vec<String>;
    fn fields(desk: &Desk, form: &Form) -> Vec<Field>;
    /// The card on record in a form of its own.
    fn on_record(&self, desk: &Desk) -> Form;
    /// Reads all of it for this id; what is wrong is noted. A change knows the card it is made on.
    fn read(form: &mut Form, desk: &Desk, of: (Uuid, Option<&Self>)) -> Option<Self>;
    /// What is wrong with the name that another one has.
    fn name_in_use(other: &str) -> String;

    /// What is kept of it beside its card, in the last column: words and where that is changed.
    fn kept_beside(
        &self,
        _: &Desk,
    ) -> impl Future<Output = Result<Option<(String, String)>, WebError>> + Send {
        async { Ok(None) }
    }

    fn list(desk: &Desk) -> impl Future<Output = Result<Vec<Self>, WebError>> + Send;
    /// The one with this id, if whoever asks sees it.
    fn find(desk: &Desk, id: Uuid) -> impl Future<Output = Result<Option<Self>, WebError>> + Send;
    /// Those whose names it must not have.
    fn beside(&self, desk: &Desk) -> impl Future<Output = Result<Vec<Self>, WebError>> + Send;
}

/// A list of cards, or a plain word when there is none.
#[derive(Template)]
#[template(path = "setting/list.html")]
struct ListPage {
    frame: Frame,
    heading: &'static str,
    about: &'static str,
    add: (String, String),
    columns: &'static [&'static str],
    rows: Vec<ListRow>,
}

struct ListRow {
    address: String,
    name: String,
    /// In the order of the columns after the first.
    cells: Vec<String>,
    /// The last column, with where it is changed.
    beside: Option<(String, String)>,
}

impl ListRow {
    /// Each cell with the head of its column.
    fn told<'a>(&'a self, columns: &'a [&'static str]) -> Vec<(&'a str, &'a str)> {
        let heads = columns.iter().skip(1).copied();
        heads.zip(self.cells.iter().map(String::as_str)).collect()
    }
}

fn sheet<'a, T: Listed>(desk: &'a Desk, card: Option<&T>) -> Sheet<'a> {
    let (list, _) = T::LIST;
    let names = match card {
        None => (format!("New {}", T::WORD), format!("{list}/new")),
        Some(card) => (
            format!("Edit {}", card.name()),
            format!("{list}/{}/edit", card.id()),
        ),
    };
    super::sheet(T::WORD, names, T::LIST, |form| T::fields(desk, form))
}

/// GET of a list.
pub(crate) async fn show_list<T: Listed>(desk: Desk) -> Result<Response, WebError> {
    let (list, heading) = T::LIST;
    let cards = T::list(&desk).await?;
    let mut rows = Vec::new();
    for card in &cards {
        rows.push(ListRow {
            address: format!("{list}/{}/edit", card.id()),
            name: card.name().to_owned(),
            cells: card.cells(&desk),
            beside: card.kept_beside(&desk).await?,
        });
    }
    Ok(page::shown(&ListPage {
        frame: desk.frame(heading),
        heading,
        about: T::ABOUT,
        add: (format!("{list}/new"), format!("Add {}", T::WORD)),
        columns: T::COLUMNS,
        rows,
    }))
}

/// GET of a new card.
pub(crate) async fn show_new<T: Listed>(desk: Desk) -> Response {
    sheet::<T>(&desk, None).draw(&desk, &card::new_form())
}

/// POST of a new card.
pub(crate) async fn submit_new<T: Listed>(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = card::read_key(&mut form);
    let id = key.map_or(Uuid::nil(), new_id::<T>);
    let card = T::read(&mut form, &desk, (id, None));
    form.refuse_what_was_not_asked();
    if let (Some(key), Some(card)) = (key, &card)
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        note_name_in_use(&desk, &mut form, card).await?;
    }
    let sheet = sheet::<T>(&desk, None);
    let (Some(key), Some(card), true) = (key, card, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let added = Added {
        facts: vec![(key, card.what())],
        acting: RUNS_PEOPLE,
        leads_to: T::LIST.0.to_owned(),
    };
    sheet.add(&desk, added, (form, as_sent)).await
}

/// The id follows from the form's key, so that a form sent twice makes one card.
fn new_id<T: Listed>(key: FactKey) -> Uuid {
    derived::fact_key(&format!("id of a new {}", T::WORD), &[&key.to_string()]).0
}

/// GET of a card on record.
pub(crate) async fn show_edit<T: Listed>(
    desk: Desk,
    Path(id): Path<String>,
) -> Result<Response, WebError> {
    let card = find::<T>(&desk, &id).await?;
    let mut form = card.on_record(&desk);
    let mut read = desk.read().await?;
    card::stand_on_last(&mut read, (card.id(), T::KINDS), &mut form).await?;
    drop(read);
    let mut sheet = sheet(&desk, Some(&card));
    if let Some((words, _)) = card.kept_beside(&desk).await? {
        sheet.about = format!("{} {}", sentence(&words), sheet.about);
    }
    Ok(sheet.draw(&desk, &form))
}

/// POST of a card on record.
pub(crate) async fn submit_edit<T: Listed>(
    desk: Desk,
    Path(id): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let known = find::<T>(&desk, &id).await?;
    let based_on = card::read_based_on(&mut form);
    let card = T::read(&mut form, &desk, (known.id(), Some(&known)));
    form.refuse_what_was_not_asked();
    if let Some(card) = &card {
        note_name_in_use(&desk, &mut form, card).await?;
    }
    let sheet = sheet(&desk, Some(&known));
    let (Some(based_on), Some(card), true) = (based_on, card, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let change = Change {
        subject: known.id(),
        kinds: T::KINDS,
        based_on,
        what: card.what(),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    let changed = card::change(&desk, change).await?;
    let now = async || Ok(find::<T>(&desk, &id).await?.on_record(&desk));
    sheet.answer(&desk, (changed, form), now).await
}

async fn find<T: Listed>(desk: &Desk, id: &str) -> Result<T, WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    T::find(desk, id).await?.ok_or(WebError::NotFound)
}

async fn note_name_in_use<T: Listed>(
    desk: &Desk,
    form: &mut Form,
    card: &T,
) -> Result<(), WebError> {
    let wanted = derived::normal_name(card.name());
    let beside = card.beside(desk).await?;
    let mut others = beside.iter().filter(|other| other.id() != card.id());
    if let Some(other) = others.find(|other| derived::normal_name(other.name()) == wanted) {
        form.note(T::NAME.0, T::NAME.1, T::name_in_use(other.name()));
    }
    Ok(())
}

//! What the record says against a card, and another row for a loop.

use domain::fleet::Unit;
use storage::Read;

use super::draft::Draft;
use super::page::Around;
use super::read::{row_of, rows};
use super::write::free_place;
use super::{MOST_LOOPS, NUMBER, field};
use crate::WebError;
use crate::form::Form;
use crate::intake::derived;

/// The same form with an empty row more; nothing on it is judged yet.
pub(in crate::unit) fn with_another_loop(form: &Form) -> Form {
    let mut wider = Form::with(form.values().iter().cloned());
    wider.set(
        "loops",
        rows(form).saturating_add(1).min(MOST_LOOPS).to_string(),
    );
    wider.set("add_loop", "");
    wider
}

/// The number is taken.
pub(in crate::unit) fn note_in_use(form: &mut Form, other: &Unit, around: &mut Around) {
    let text = format!(
        "unit {} is on record and in use; open it, or type another number",
        other.number
    );
    form.note(NUMBER.0, NUMBER.1, text);
    around.in_use = Some((format!("/units/{}", other.id), other.number.clone()));
}

/// A loop that jobs have touched already did not begin today: what it holds follows from them.
pub(in crate::unit) async fn note_openings(
    read: &mut Read,
    form: &mut Form,
    (draft, unit): (&Draft, &Unit),
) -> Result<(), WebError> {
    for each in &draft.loops {
        if each.opening.is_none() {
            continue;
        }
        let key = derived::fact_key("not written", &[]);
        let place = free_place(read, (unit, &each.name), key).await?;
        if read
            .find_place(place)
            .await
            .map_err(WebError::fault)?
            .is_some()
        {
            let row = row_of(form, &each.name);
            form.note(
                &field(row, "opening"),
                &format!("Loop {row}: strength now"),
                "jobs have named this loop already, so what it holds follows from them; \
                 leave this empty and log a condition test",
            );
        }
    }
    Ok(())
}

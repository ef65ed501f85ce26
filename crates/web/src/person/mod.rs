//! People: who works here, what they may do, and the PINs, badges and passwords they are given.
//!
//! Cards and roles are facts on the record; secrets lie beside it and are shown once. Whoever
//! changes anything here shows once more who they are.

mod card;
mod leave;
mod list;
mod power;
mod roles;
mod secret;
mod show;

pub(crate) use card::{show_edit, show_new, submit_edit, submit_new};
pub(crate) use leave::{remove_name, show as show_leave, submit as submit_leave};
pub(crate) use list::show as show_list;
pub(crate) use power::RUNS_PEOPLE;
pub(crate) use roles::{show as show_roles, submit as submit_roles};
pub(crate) use secret::{issue_badge, issue_password, issue_pin};
pub(crate) use show::show;

use domain::fleet::Person;
use domain::ids::PersonId;
use storage::{Read, Staff};
use uuid::Uuid;

use crate::WebError;
use crate::desk::Desk;
use power::Reach;

/// Somebody a page is about.
#[derive(Clone, Debug)]
struct Subject {
    staff: Staff,
    /// Their name; none when it was removed or never given.
    name: Option<String>,
}

impl Subject {
    fn person(&self) -> &Person {
        &self.staff.person
    }

    fn address(&self) -> String {
        format!("/people/{}", self.staff.person.id)
    }
}

/// Somebody by the id in an address, when whoever asks may see them at all.
async fn find(desk: &Desk, read: &mut Read, id: &str) -> Result<Subject, WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    let staff = read
        .find_staff(PersonId(id))
        .await
        .map_err(WebError::fault)?
        .filter(|staff| power::sees(desk, staff))
        .ok_or(WebError::NotFound)?;
    let name = name_of(read, &staff.person).await?;
    Ok(Subject { staff, name })
}

/// The same, when whoever asks may change everything about them.
async fn find_to_change(desk: &Desk, read: &mut Read, id: &str) -> Result<Subject, WebError> {
    let subject = find(desk, read, id).await?;
    match power::reach(desk, &subject.staff) {
        Reach::Everything => Ok(subject),
        Reach::Pin | Reach::Nothing => Err(power::refused(desk, &subject.staff).await),
    }
}

/// Nothing is changed any more about somebody who left, but that their name may go.
fn must_work_here(subject: &Subject) -> Result<(), WebError> {
    if subject.person().active {
        return Ok(());
    }
    Err(WebError::Refused {
        detail: format!(
            "{} no longer works here; add them anew if they came back",
            subject.person().handle
        ),
        problems: Vec::new(),
    })
}

async fn name_of(read: &mut Read, person: &Person) -> Result<Option<String>, WebError> {
    match person.name.as_ref().and_then(|name| name.digest()) {
        Some(digest) => read.find_text(digest).await.map_err(WebError::fault),
        None => Ok(None),
    }
}

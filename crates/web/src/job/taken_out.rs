//! Who took a job out of the book, when and why.

use domain::fact::What;
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::words::Text;
use storage::{Read, Row};

use super::told::Told;
use crate::WebError;
use crate::desk::Desk;
use crate::figure;
use crate::record::{Names, Wanted, number};

/// The reason a void has that nobody was asked for one.
pub(crate) const UNDONE: &str = "Undo";

/// What the page of a job says about it.
#[derive(Clone, Debug)]
pub(crate) struct TakenOut {
    /// "Voided by P10, Ostrin Marrable, 2026-10-05 07:45."
    pub(crate) sentence: String,
    /// Empty where none was given.
    pub(crate) reason: String,
    /// The job in its place.
    pub(crate) instead: Option<(String, String)>,
}

impl TakenOut {
    /// In one line, for a form that came too late: "Voided by P10 … Reason: Wrong volume."
    pub(crate) fn in_one_line(&self) -> String {
        if self.reason.is_empty() {
            self.sentence.clone()
        } else {
            format!(
                "{} Reason: {}.",
                self.sentence,
                self.reason.trim_end_matches('.')
            )
        }
    }

    /// None while the job counts.
    pub(crate) async fn find(
        desk: &Desk,
        read: &mut Read,
        told: &Told,
    ) -> Result<Option<Self>, WebError> {
        let Some(by) = told.stands.voided_by else {
            return Ok(None);
        };
        let Some(row) = read.find_fact(by).await.map_err(WebError::fault)? else {
            return Err(WebError::fault(format!(
                "{by}, which voids a job, is not on record"
            )));
        };
        let fact = row.fact().map_err(WebError::fault)?;
        let (reason, is_job) = match &fact.what {
            What::Void(void) => (Some(&void.reason), false),
            What::Job(job) => (
                job.replaces.as_ref().and_then(|old| old.reason.as_ref()),
                true,
            ),
            _ => (None, false),
        };
        let person = fact.by.person.or(row.person.map(domain::ids::PersonId));
        let mut wanted = Wanted::default();
        wanted.people.extend(person);
        wanted.text(reason);
        let names = Names::of(read, wanted).await?;
        let reason = reason.map_or_else(String::new, |reason| names.text(reason, "reason removed"));
        let at = figure::time(Moment(row.at), desk.zone());
        let who = names.person(person);
        let verb = match (is_job, reason.as_str()) {
            (true, _) => "Corrected",
            (false, UNDONE) => "Undone",
            (false, _) => "Voided",
        };
        Ok(Some(Self {
            sentence: format!("{verb} by {who}, {at}."),
            reason: if reason == UNDONE {
                String::new()
            } else {
                reason
            },
            instead: is_job.then(|| link(desk, by, &row)),
        }))
    }
}

fn link(desk: &Desk, key: FactKey, row: &Row) -> (String, String) {
    (
        format!("/jobs/{key}"),
        format!("job {}", number(desk.units(), row.seq)),
    )
}

/// The job that a job takes the place of: what to say, where it stands, and why it was put aside.
pub(crate) async fn replaced(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Option<(FactKey, Option<i64>, Option<Text>)>, WebError> {
    let Some(old) = &told.job.replaces else {
        return Ok(None);
    };
    let found = Told::look_up(read, old.job).await?;
    let seen = found.filter(|found| desk.sees(found.job.shop));
    Ok(Some((
        old.job,
        seen.map(|found| found.row.seq),
        old.reason.clone(),
    )))
}

//! A job on record, with what is needed to tell about it.

use chrono::{DateTime, NaiveDate, Utc};
use domain::book::month::Month;
use domain::fact::{By, What};
use domain::ids::{FactKey, PersonId, PlaceId};
use domain::job::{Account, Job, JobKind, Line, Movement};
use domain::moment::{Moment, Precision, When};
use domain::quantity::UnitsOfMeasure;
use storage::{JobRow, PostingRow, Read, Row};
use uuid::Uuid;

use super::entered::Wording;
use super::take_back::{self, Asked, Leave, Name, Whose};
use crate::WebError;
use crate::desk::Desk;
use crate::intake::{read_zone, time};
use crate::record::{Names, Wanted};

/// What somebody recorded and how it stands in the book.
#[derive(Clone, Debug)]
pub(crate) struct Told {
    pub(crate) key: FactKey,
    pub(crate) row: Row,
    pub(crate) when: When,
    pub(crate) by: By,
    pub(crate) job: Job,
    pub(crate) stands: JobRow,
}

/// How a job stands, in the words of the views.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stands {
    Counts,
    TakenOut,
    NotPosted,
}

impl Told {
    /// The job behind the key in an address, when it is of a shop this person sees.
    pub(crate) async fn find(desk: &Desk, read: &mut Read, key: &str) -> Result<Self, WebError> {
        let key = Uuid::try_parse(key).map_err(|_| WebError::NotFound)?;
        let told = Self::look_up(read, FactKey(key)).await?;
        told.filter(|told| desk.sees(told.job.shop))
            .ok_or(WebError::NotFound)
    }

    /// None when the key is no job's.
    pub(crate) async fn look_up(read: &mut Read, key: FactKey) -> Result<Option<Self>, WebError> {
        let Some(row) = read.find_fact(key).await.map_err(WebError::fault)? else {
            return Ok(None);
        };
        let fact = row.fact().map_err(WebError::fault)?;
        let What::Job(job) = fact.what else {
            return Ok(None);
        };
        let stands = read.find_job(key).await.map_err(WebError::fault)?;
        let stands = stands.ok_or_else(|| WebError::fault(format!("job {key} is in no view")))?;
        Ok(Some(Self {
            key,
            row,
            when: fact.when,
            by: fact.by,
            job,
            stands,
        }))
    }

    /// The places its lines took out of, in their order: each by the id that stands in the job, and the
    /// one it means by the book. Two ids may have turned out to be one place since.
    pub(crate) fn taken_from(&self, postings: &[PostingRow]) -> Vec<(PlaceId, PlaceId)> {
        let mut all: Vec<(PlaceId, PlaceId)> = Vec::new();
        for (n, line) in (0_i64..).zip(&self.job.lines) {
            let Line::Movement(Movement { from, to, .. }) = line else {
                continue;
            };
            let Some(named) = from.place() else {
                continue;
            };
            if all.iter().all(|(known, _)| *known != named) {
                let (from, to) = (from.word(), to.word());
                let own = |it: &&PostingRow| {
                    it.line == n && it.from_account == from && it.to_account == to
                };
                let settled = postings.iter().filter(own).find_map(|it| it.from_place);
                all.push((named, settled.unwrap_or(named)));
            }
        }
        all
    }

    pub(crate) fn received_at(&self) -> Moment {
        Moment(self.row.at)
    }

    pub(crate) fn stands(&self) -> Stands {
        match self.stands.standing.as_str() {
            "voided" => Stands::TakenOut,
            "not_posted" => Stands::NotPosted,
            _ => Stands::Counts,
        }
    }

    /// Who signed on to record it, or who it is of where another program sent it.
    pub(crate) fn entered_by(&self) -> Option<PersonId> {
        self.row.person.map(PersonId).or(self.by.person)
    }

    pub(crate) fn whose(&self, desk: &Desk) -> Whose {
        let own = Some(desk.person.id);
        if self.entered_by() == own || self.by.person == own {
            Whose::Own
        } else {
            Whose::Anothers
        }
    }

    /// Whether this person may take it back, by the roles that count for them in the shop of
    /// the job.
    pub(crate) async fn leave(&self, desk: &Desk, read: &mut Read) -> Result<Leave, WebError> {
        let roles = desk.roles_in(read, self.job.shop).await?;
        let month = Month::of(self.when.book_date(self.received_at()));
        let closed = read
            .list_month_closings(self.job.shop, month)
            .await
            .map_err(WebError::fault)?;
        let shop = read
            .find_shop(self.job.shop)
            .await
            .map_err(WebError::fault)?;
        let zone = shop
            .and_then(|shop| read_zone(&shop.zone).ok())
            .unwrap_or(chrono_tz::Tz::UTC);
        let date = |at: Moment| -> NaiveDate {
            let at = at.utc().unwrap_or_default();
            at.with_timezone(&zone).date_naive()
        };
        Ok(take_back::judge(&Asked {
            roles: &roles,
            name: Name::of(desk.session.proved, self.by.proved),
            whose: self.whose(desk),
            entered: date(self.received_at()),
            today: date(desk.now_ms()),
            month_closed: !closed.is_empty(),
        }))
    }

    /// What it was done on: "4204", "Cart A".
    pub(crate) fn subject(&self, names: &Names) -> String {
        let number = self.stands.unit_number.as_ref();
        if let (Some(number), None) = (number, self.job.place) {
            return number.clone();
        }
        let wording = Wording {
            units: UnitsOfMeasure::METRIC,
            names,
            job: &self.job,
        };
        wording.subject()
    }

    /// The unit or vessel whose page [`Self::subject_address`] is; of a load out of several the first.
    pub(crate) fn own_place(&self, names: &Names) -> String {
        match self.job.place.and_then(Account::place) {
            Some(place) if self.job.kind == JobKind::Ship => names.place(place),
            _ => self.subject(names),
        }
    }

    /// The page of the unit or vessel; none where nobody has a card.
    pub(crate) fn subject_address(&self, names: &Names) -> Option<String> {
        match (self.job.unit, &self.stands.unit_number) {
            (Some(unit), Some(_)) => Some(format!("/units/{unit}")),
            (Some(_), None) => None,
            (None, _) => names.address_of(self.job.place.and_then(Account::place)?),
        }
    }

    /// All that its page names.
    pub(crate) fn wanted(&self) -> Wanted {
        let mut wanted = Wanted::default();
        wanted.people.extend(self.by.person);
        wanted.people.extend(self.entered_by());
        wanted.text(self.job.note.as_ref());
        wanted.text(
            self.job
                .replaces
                .as_ref()
                .and_then(|old| old.reason.as_ref()),
        );
        if let Some(place) = self.job.place {
            wanted.place(place);
        }
        for line in &self.job.lines {
            wanted.line(line);
        }
        wanted
            .places
            .extend(self.stands.changes.iter().map(|change| change.place));
        wanted
    }
}

/// Now, as the time of a fact that is recorded at this desk.
pub(crate) fn now(desk: &Desk) -> Result<When, WebError> {
    at(desk, desk.now())
}

/// A moment by the server's clock, in the shop of this desk.
pub(super) fn at(desk: &Desk, at: DateTime<Utc>) -> Result<When, WebError> {
    let local = time::in_zone(at, desk.zone(), Precision::Minute).map_err(WebError::fault)?;
    Ok(When {
        happened_at: local.at,
        precision: local.precision,
        local_date: local.local_date,
        utc_offset_min: local.utc_offset_min,
        made_at: local.at,
        clock_offset_ms: 0,
    })
}

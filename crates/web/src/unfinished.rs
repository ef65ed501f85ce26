//! What was begun in a shop and is not finished: units that stand drained while their coolant waits
//! in a vessel, and units that were filled and whose level nobody has looked at since they were warm.
//!
//! Whoever comes to work finds it on the board, and on the sign-on page of a tablet, so that a shift
//! that ends hands it over without a word.

use askama::Template;
use domain::book::COMPLETION_MS;
use domain::condition::policy::Policies;
use domain::fact::What;
use domain::fleet::{Role, Shop};
use domain::job::{Account, Job, Line};
use domain::moment::Moment;
use storage::{LastJob, Read};

use crate::desk::Desk;
use crate::intake::read_zone;
use crate::record::{Names, Wanted};
use crate::{WebError, figure};

/// So many of each are shown; those that wait longest come first.
const MOST: i64 = 10;

/// One unit.
#[derive(Clone, Debug)]
pub(crate) struct Open {
    pub(crate) number: String,
    pub(crate) address: String,
    pub(crate) said: String,
    /// What finishes it: label and address.
    pub(crate) step: Option<(String, String)>,
}

/// The list.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "unfinished.html")]
pub(crate) struct Unfinished {
    pub(crate) open: Vec<Open>,
    /// Whether units are linked: nobody can follow a link before they sign on.
    pub(crate) links: bool,
}

// It is a template itself, which escapes what it shows.
impl askama::filters::HtmlSafe for Unfinished {}

impl Unfinished {
    /// For whoever is signed on.
    pub(crate) async fn of(desk: &Desk, read: &mut Read) -> Result<Self, WebError> {
        let works = desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]);
        let mut found = Self::in_shop(read, &desk.shop, desk.now_ms()).await?;
        found.links = true;
        if !works {
            found.open.iter_mut().for_each(|open| open.step = None);
        }
        Ok(found)
    }

    /// For whoever stands before a tablet of the shop.
    pub(crate) async fn in_shop(
        read: &mut Read,
        shop: &Shop,
        now: Moment,
    ) -> Result<Self, WebError> {
        let zone = read_zone(&shop.zone).unwrap_or(chrono_tz::Tz::UTC);
        let today = now.utc().unwrap_or_default().with_timezone(&zone);
        let policy = Policies::on(today.date_naive()).map_err(WebError::fault)?;
        let least = policy.freeze.least_level_millionths;
        let drained = read
            .list_drained(shop.id, least, (MOST, LastJob::Named))
            .await;
        let drained = drained.map_err(WebError::fault)?;
        let since = now.plus_ms(COMPLETION_MS.saturating_neg());
        let filled = read
            .list_levels_to_look_at(shop.id, since, (MOST, LastJob::Named))
            .await;
        let filled = filled.map_err(WebError::fault)?;
        let seqs: Vec<i64> = drained.iter().filter_map(|each| each.seq).collect();
        let rows = read.list_facts_at(&seqs).await.map_err(WebError::fault)?;
        let mut jobs: Vec<(i64, Job)> = Vec::new();
        let mut wanted = Wanted::default();
        for row in rows {
            if let What::Job(job) = row.fact().map_err(WebError::fault)?.what {
                job.lines.iter().for_each(|line| wanted.line(line));
                jobs.push((row.seq, job));
            }
        }
        for each in drained.iter().chain(&filled) {
            wanted.people.extend(each.person);
        }
        let names = Names::of(read, wanted).await?;
        let by = |each: &storage::Unfinished| {
            let person = each.person.map(|person| names.handle(Some(person)));
            person.map_or_else(String::new, |handle| format!(" by {handle}"))
        };
        let open = |each: &storage::Unfinished, said: String, step: (&str, &str)| Open {
            number: each.unit_number.clone(),
            address: format!("/units/{}", each.unit),
            said,
            step: Some((
                step.0.to_owned(),
                format!("/units/{}/jobs/{}", each.unit, step.1),
            )),
        };
        let mut found = Self::default();
        for each in &drained {
            let job = jobs.iter().find(|(seq, _)| Some(*seq) == each.seq);
            let holds = job.map_or_else(String::new, |(_, job)| whereabouts(shop, &names, job));
            let at = figure::time(each.since, zone);
            let said = format!("drained {at}{}{holds}, not filled since.", by(each));
            found.open.push(open(each, said, ("Fill", "fill")));
        }
        for each in &filled {
            let at = figure::time(each.since, zone);
            let by = by(each);
            let said = format!(
                "filled {at}{by}; nobody has looked at its level after the first heat cycle."
            );
            let step = ("Condition test", "condition_test");
            found.open.push(open(each, said, step));
        }
        Ok(found)
    }
}

/// ": 38.0 L to Cart A", what one job took out, by vessel.
fn whereabouts(shop: &Shop, names: &Names, job: &Job) -> String {
    let mut to: Vec<(String, i64)> = Vec::new();
    for line in &job.lines {
        if let Line::Movement(movement) = line
            && matches!(movement.from, Account::Loop(_))
            && let Account::Vessel(vessel) = movement.to
        {
            let name = names.place(vessel);
            match to.iter_mut().find(|(known, _)| *known == name) {
                Some((_, ml)) => *ml = ml.saturating_add(movement.volume.value.ml()),
                None => to.push((name, movement.volume.value.ml())),
            }
        }
    }
    let units = shop.units_of_measure;
    let parts: Vec<String> = to
        .iter()
        .map(|(name, ml)| format!("{} to {name}", figure::volume(units, *ml)))
        .collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!(": {}", parts.join(" and "))
    }
}

//! What of a month wants somebody's eye: how much was used again, how near the next class is, the oldest
//! waste, what nobody answered, signed or counts any more. Every figure leads to its list.

use chrono::{Days, NaiveDate};
use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::Measure;
use domain::job::JobKind;
use domain::moment::{DAY_MS, Moment};
use domain::rules::Class;
use domain::waste::Generation;
use storage::{Period, Read};

use super::container::{self, Known};
use super::{OnSite, kilograms};
use crate::WebError;
use crate::board::questions_of;
use crate::component::Counted;
use crate::desk::Desk;
use crate::figure;
use crate::job::sentence_case;
use crate::record::number;

/// Something with the page it stands on.
pub(super) struct Entry {
    pub(super) said: String,
    pub(super) address: String,
}

/// A figure with the list behind it.
pub(super) struct Figure {
    pub(super) what: &'static str,
    pub(super) said: String,
    pub(super) address: String,
}

/// All of it.
pub(super) struct Attention {
    pub(super) figures: Vec<Figure>,
    /// Questions about facts of the month that nobody answered.
    pub(super) questions: Counted,
    /// Shipments that were prepared and nobody signed; those of the month among them.
    pub(super) unsigned: Vec<Entry>,
    pub(super) unsigned_of_month: usize,
    /// Jobs of the month that were taken back.
    pub(super) voided: Vec<Entry>,
}

/// What a month is judged by.
pub(super) struct Of<'a> {
    pub(super) site: &'a OnSite,
    pub(super) month: Month,
    pub(super) totals: &'a [FlowTotal],
    pub(super) found: &'a Generation<'static>,
    /// Shipments are looked through from this month on.
    pub(super) since: Month,
}

impl Attention {
    pub(super) async fn of(desk: &Desk, read: &mut Read, of: Of<'_>) -> Result<Self, WebError> {
        let mut figures: Vec<Figure> = [reuse(desk, &of), limit_used(desk, &of)?]
            .into_iter()
            .flatten()
            .collect();
        if of.month == Month::of(desk.today()) {
            figures.extend(oldest(desk, read, of.site).await?);
        }
        let (unsigned, unsigned_of_month) = unsigned(desk, read, &of).await?;
        let voided = voided(read, &of).await?;
        figures.push(Figure {
            what: "Shipments not signed yet",
            said: number_of(desk, unsigned.len()),
            address: "#unsigned".to_owned(),
        });
        figures.push(Figure {
            what: "Jobs of the month that were taken back",
            said: number_of(desk, voided.len()),
            address: "#voided".to_owned(),
        });
        Ok(Self {
            figures,
            questions: questions(read, &of).await?,
            unsigned,
            unsigned_of_month,
            voided,
        })
    }
}

fn number_of(desk: &Desk, count: usize) -> String {
    number(desk.units(), i64::try_from(count).unwrap_or(i64::MAX))
}

/// "62.4 %" of what was recovered; none where nothing was.
fn reuse(desk: &Desk, of: &Of<'_>) -> Option<Figure> {
    let ml = |measure| {
        let total = of.totals.iter().find(|total| total.measure == measure);
        total.map_or(0, |total| total.shown_ml)
    };
    let recovered = ml(Measure::Recovered);
    let said = figure::percent_of(desk.units(), ml(Measure::Reused), recovered)?;
    Some(Figure {
        what: "Reused, of what was recovered",
        said,
        address: format!("/waste/lines?month={}&total=reused", of.month),
    })
}

/// How much of what the class of the month may have is there: "26.3 % of 100 kg".
fn limit_used(desk: &Desk, of: &Of<'_>) -> Result<Option<Figure>, WebError> {
    let rules = of.found.profile.and_then(|it| it.generator.as_ref());
    let Some((rules, standing)) = rules.zip(of.found.standing) else {
        return Ok(None);
    };
    let limit = match standing.class {
        Class::Smallest => &rules.thresholds.small_max,
        Class::Middle | Class::Largest => &rules.thresholds.large_min,
    };
    let firm = of.found.firm().map_err(WebError::fault)?;
    let units = desk.units();
    Ok(
        figure::percent_of(units, firm.g(), limit.value.g()).map(|share| Figure {
            what: "Share of the limit used",
            said: format!("{share} of {}", kilograms(units, limit.value.g())),
            address: "#counts-as".to_owned(),
        }),
    )
}

/// "D-6, 186 days".
async fn oldest(desk: &Desk, read: &mut Read, site: &OnSite) -> Result<Option<Figure>, WebError> {
    let all = container::unjudged(desk, read, site).await?;
    let began = |known: &Known| {
        let days = [known.became, known.stated.start];
        days.into_iter().flatten().min()
    };
    let waste = all.iter().filter(|known| known.counts());
    let oldest = waste
        .filter_map(|known| Some((began(known)?, &known.card.name)))
        .min();
    Ok(oldest.map(|(day, name)| {
        let age = desk.today().signed_duration_since(day).num_days();
        let days = if age == 1 { "day" } else { "days" };
        Figure {
            what: "Oldest waste on the site",
            said: format!("{name}, {} {days}", number(desk.units(), age)),
            address: "/waste/containers".to_owned(),
        }
    }))
}

async fn questions(read: &mut Read, of: &Of<'_>) -> Result<Counted, WebError> {
    let mut count = 0_usize;
    for shop in of.site.shop_ids() {
        let open = read.list_open_questions_of_month(shop, of.month).await;
        count = count.saturating_add(open.map_err(WebError::fault)?.len());
    }
    Ok(Counted::rows(count, questions_of(of.month)))
}

/// Shipments without a signature, and how many of them are of the month.
async fn unsigned(
    desk: &Desk,
    read: &mut Read,
    of: &Of<'_>,
) -> Result<(Vec<Entry>, usize), WebError> {
    let days = (of.since.first_day(), of.month.last_day());
    let within = around(days);
    let mut seqs = Vec::new();
    for shop in of.site.shop_ids() {
        let own = read.list_shipments_not_signed(shop, within).await;
        seqs.extend(own.map_err(WebError::fault)?);
    }
    let shipped = read
        .list_waste_lines(&of.site.shop_ids(), Measure::Shipped, days)
        .await
        .map_err(WebError::fault)?;
    let month = of.month.to_string();
    let (mut all, mut of_month) = (Vec::new(), 0_usize);
    for row in read.list_jobs(&seqs).await.map_err(WebError::fault)? {
        let own = shipped.iter().filter(|line| line.seq == row.seq);
        let Some(day) = own.clone().map(|line| line.day).next() else {
            continue;
        };
        if day.to_string().starts_with(&month) {
            of_month = of_month.saturating_add(1);
        }
        let ml = own.clone().map(|line| line.shown_ml).sum();
        let g: Option<i64> = own.map(|line| line.mass_g).sum();
        let mass = g.map_or_else(
            || "mass not known".to_owned(),
            |g| kilograms(desk.units(), g),
        );
        all.push(Entry {
            said: format!(
                "{day}, job {}: {}, {mass}",
                number(desk.units(), row.seq),
                figure::volume(desk.units(), ml)
            ),
            address: format!("/jobs/{}", row.order.key),
        });
    }
    Ok((all, of_month))
}

/// Jobs of the month that count no more, the newest first.
async fn voided(read: &mut Read, of: &Of<'_>) -> Result<Vec<Entry>, WebError> {
    let (from, to) = around((of.month.first_day(), of.month.last_day()));
    let month = of.month.to_string();
    let mut all = Vec::new();
    for shop in of.site.shop_ids() {
        let within = Period { shop, from, to };
        let rows = read
            .list_taken_back(within)
            .await
            .map_err(WebError::fault)?;
        let own = rows
            .into_iter()
            .filter(|row| row.local_date.starts_with(&month));
        all.extend(own.map(|row| {
            let kind = JobKind::from_code(&row.kind).map_or("job", JobKind::word);
            let unit = row.unit_number.map(|number| format!(" on {number}"));
            Entry {
                said: format!(
                    "{}, {}{}",
                    row.local_date,
                    sentence_case(kind),
                    unit.unwrap_or_default()
                ),
                address: format!("/jobs/{}", row.order.key),
            }
        }));
    }
    Ok(all)
}

/// From before the first day to after the last: a day of a shop's own lies within a day of that of
/// Greenwich.
fn around((first, last): (NaiveDate, NaiveDate)) -> (Moment, Moment) {
    let first = first.checked_sub_days(Days::new(1));
    let last = last.checked_add_days(Days::new(2));
    (start(first), start(last))
}

fn start(day: Option<NaiveDate>) -> Moment {
    let days = day.map_or(0, |day| {
        day.signed_duration_since(NaiveDate::default()).num_days()
    });
    Moment(days.saturating_mul(DAY_MS))
}

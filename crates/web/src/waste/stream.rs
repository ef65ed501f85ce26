//! Where the coolant of a span of months went, stream by stream: what was there, came in, went out and
//! is there now, held against the book.

use std::collections::{BTreeMap, BTreeSet};

use axum::extract::RawQuery;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::{Month, VesselMasses, VesselStatement};
use domain::book::outcome::Measure;
use domain::fact::What;
use domain::fleet::Holds;
use domain::ids::PlaceId;
use domain::job::Details;
use domain::quantity::UnitsOfMeasure;
use domain::waste::StreamBalance;
use storage::{FlowLine, Read};

use super::export::{Csv, kg};
use super::head::{Check, Period, ReportHead, Rows};
use super::year::span_asked;
use super::{OnSite, kilograms, profiles};
use crate::WebError;
use crate::desk::Desk;
use crate::form::Form;
use crate::job::sentence_case;

/// The streams, with the vessels that hold them.
const STREAMS: [(Holds, &str); 2] = [
    (Holds::Waste, "Waste coolant in containers for waste"),
    (Holds::Recovered, "Recovered coolant in vessels kept for it"),
];

/// The way waste left the site.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    /// What the list of waste calls it, where the rules of its day have one.
    entry: Option<String>,
    destination: String,
    carrier: String,
    treatment: String,
}

/// What left the site one way.
#[derive(Default)]
struct Sent {
    papers: BTreeSet<String>,
    g: i64,
    without_mass: usize,
}

/// A stream with what the lists say of it.
struct Stream {
    word: &'static str,
    balance: StreamBalance,
    /// Became waste in these vessels, by its lines, g.
    generated_g: i64,
    /// Decided to be reclaimed in them.
    reclaimed_g: i64,
    /// Went into units again, by the totals of the months.
    reused_g: i64,
    /// Shipped out of them.
    shipped_g: i64,
    /// How many vessels, and how many of them close in mL of every component.
    vessels: usize,
    close: usize,
}

/// All that is to be told of a span.
pub(super) struct Streams {
    all: Vec<Stream>,
    /// What became waste by its lines and by the book's totals, g.
    generated: (i64, i64),
    /// The same of what was shipped.
    shipped: (i64, i64),
    /// By what it is, facility, carrier and treatment.
    sent: BTreeMap<Way, Sent>,
    /// Where all of it came from: the site.
    origin: String,
    /// The paper that goes with a load by the rules of the last day: "Consignment note".
    paper: String,
}

/// The streams as a page shows them, side by side.
pub(super) struct Table {
    pub(super) heads: Vec<&'static str>,
    /// What a figure is, and its cells, each with the head it stands under.
    pub(super) rows: Vec<(&'static str, Vec<(&'static str, String)>)>,
    pub(super) sent: Vec<SentRow>,
    /// Whether the rules have a list of waste, by which the rows are told apart.
    pub(super) has_list: bool,
    pub(super) origin: String,
    pub(super) paper: String,
    /// Look and sentence of each comparison.
    pub(super) checks: Vec<(&'static str, String)>,
}

pub(super) struct SentRow {
    pub(super) entry: String,
    pub(super) treatment: String,
    pub(super) destination: String,
    pub(super) carrier: String,
    pub(super) papers: String,
    pub(super) mass: String,
}

impl Stream {
    /// At first + came in − the three ways out + corrected + mixing = at last.
    const fn cells(&self) -> [(&'static str, i64); 11] {
        let (balance, masses) = (&self.balance, &self.balance.masses);
        [
            ("At first", balance.opening_g),
            ("Came in", masses.came_in_g),
            ("Into units", masses.into_units_g),
            ("Shipped", masses.shipped_g),
            ("Other ways out", masses.other_out_g),
            ("By dips and readings", masses.corrected_g),
            ("By mixing", balance.mixing_g),
            ("At last", balance.closing_g),
            ("Became waste in them", self.generated_g),
            ("Decided to be reclaimed in them", self.reclaimed_g),
            ("Reused out of them", self.reused_g),
        ]
    }

    /// What has no known mass and is in none of the figures, if anything; what it moved then stands
    /// under "By mixing".
    fn unweighed(&self) -> Option<(&'static str, String)> {
        let (vessels, lines) = (self.balance.without_mass, self.balance.masses.without_mass);
        if vessels == 0 && lines == 0 {
            return None;
        }
        let said = format!(
            "\u{201C}{}\u{201D}: vessels whose contents have no known mass: {vessels}, lines: {lines}. They are in none of these figures, and what they moved stands under \u{201C}By mixing\u{201D}.",
            self.word
        );
        Some(("watch", said))
    }
}

impl Streams {
    pub(super) async fn of(
        read: &mut Read,
        (site, months): (&OnSite, (Month, Month)),
    ) -> Result<Self, WebError> {
        let days = (months.0.first_day(), months.1.last_day());
        let generated = sums(read, site, (Measure::BecameWaste, days)).await?;
        let reclaimed = sums(read, site, (Measure::Reclaimed, days)).await?;
        let shipped_lines = read
            .list_waste_lines(&site.shop_ids(), Measure::Shipped, days)
            .await
            .map_err(WebError::fault)?;
        let shipped: Vec<(Option<PlaceId>, i64)> = shipped_lines
            .iter()
            .filter_map(|line| Some((line.vessel, line.mass_g?)))
            .collect();
        let mut vessels = Vec::new();
        for shop in site.shop_ids() {
            vessels.extend(
                read.list_vessel_statements(shop, months)
                    .await
                    .map_err(WebError::fault)?,
            );
        }
        let totals = site.totals(read, months).await?;
        let total = |measure| {
            let total = totals.iter().find(|total| total.measure == measure);
            total.map_or(0, |total| total.mass_g)
        };
        let all = STREAMS.map(|(holds, word)| {
            let own: Vec<(VesselStatement, VesselMasses)> = vessels
                .iter()
                .filter(|(card, ..)| card.holds == holds)
                .map(|(_, statement, masses)| (statement.clone(), *masses))
                .collect();
            let ids: BTreeSet<PlaceId> = own.iter().map(|(of, _)| of.vessel).collect();
            let within = |sums: &[(Option<PlaceId>, i64)]| {
                let own = sums
                    .iter()
                    .filter(|(vessel, _)| vessel.is_some_and(|id| ids.contains(&id)));
                own.map(|(_, g)| g).sum()
            };
            Stream {
                word,
                balance: StreamBalance::of(&own),
                generated_g: within(&generated),
                reclaimed_g: within(&reclaimed),
                // What is reused is what went into units out of vessels of this stream alone.
                reused_g: match holds {
                    Holds::Recovered => total(Measure::Reused),
                    _ => 0,
                },
                shipped_g: within(&shipped),
                vessels: own.len(),
                close: own.iter().filter(|(of, _)| of.closes()).count(),
            }
        });
        Ok(Self {
            all: all.into(),
            generated: (together(&generated), total(Measure::BecameWaste)),
            shipped: (together(&shipped), total(Measure::Shipped)),
            sent: sent(read, site, &shipped_lines).await?,
            origin: site.name.clone(),
            paper: site
                .stated
                .profile_on(days.1, profiles()?)
                .and_then(|profile| profile.paper.as_ref())
                .map_or_else(|| "Paper".to_owned(), |paper| sentence_case(&paper.value)),
        })
    }

    /// The streams as a page shows them.
    pub(super) fn table(&self, units: UnitsOfMeasure) -> Table {
        let kilograms = |g| kilograms(units, g);
        Table {
            heads: self.all.iter().map(|of| of.word).collect(),
            rows: self.rows(units),
            has_list: self.sent.keys().any(|way| way.entry.is_some()),
            origin: self.origin.clone(),
            paper: self.paper.clone(),
            sent: self
                .sent
                .iter()
                .map(|(way, sent)| SentRow {
                    entry: way
                        .entry
                        .clone()
                        .unwrap_or_else(|| "no list that day".to_owned()),
                    treatment: way.treatment.clone(),
                    destination: way.destination.clone(),
                    carrier: way.carrier.clone(),
                    papers: sent.papers.iter().cloned().collect::<Vec<_>>().join(", "),
                    mass: match sent.without_mass {
                        0 => kilograms(sent.g),
                        _ => format!("at least {}", kilograms(sent.g)),
                    },
                })
                .collect(),
            checks: self
                .checks()
                .iter()
                .map(|check| check.said(kilograms))
                .chain(self.all.iter().filter_map(Stream::unweighed))
                .collect(),
        }
    }

    fn rows(&self, units: UnitsOfMeasure) -> Vec<(&'static str, Vec<(&'static str, String)>)> {
        let words = self.all.first().map(Stream::cells).into_iter().flatten();
        let row = |(n, (word, _)): (usize, (&'static str, i64))| {
            let cells = self.all.iter().filter_map(|of| {
                let (_, g) = of.cells().get(n).copied()?;
                Some((of.word, kilograms(units, g)))
            });
            (word, cells.collect())
        };
        words.enumerate().map(row).collect()
    }

    /// What is reckoned in two ways: by lines and by the book's totals, by both sides of each balance,
    /// and whether each vessel closes by itself.
    fn checks(&self) -> Vec<Check> {
        let mut all = vec![
            Check::of("what became waste", self.generated.0, self.generated.1),
            Check::of("what was shipped", self.shipped.0, self.shipped.1),
        ];
        for of in &self.all {
            let what = format!("shipped of \u{201C}{}\u{201D}", of.word);
            all.push(Check::of(what, of.shipped_g, of.balance.shipped_of_all_g));
        }
        for of in &self.all {
            let what = format!(
                "at first + in = out + at last, of \u{201C}{}\u{201D},",
                of.word
            );
            all.push(Check::of_sides(what, of.balance.sides()));
        }
        for of in &self.all {
            let what = format!(
                "the number of vessels of \u{201C}{}\u{201D} that close in mL of every component",
                of.word
            );
            let sides = [
                ("what moved in each", of.close),
                ("all there are", of.vessels),
            ];
            all.push(Check::of_all(what, sides));
        }
        all
    }

    /// The rows of the tables of a year: its months, the streams, where it was sent.
    pub(super) fn counted(&self) -> Vec<Rows> {
        vec![
            ("streams", self.all.len()),
            ("facilities and carriers", self.sent.len()),
        ]
    }
}

/// What the lines under a measure come to by vessel, g.
async fn sums(
    read: &mut Read,
    site: &OnSite,
    (measure, days): (Measure, (NaiveDate, NaiveDate)),
) -> Result<Vec<(Option<PlaceId>, i64)>, WebError> {
    let sums = read
        .sum_waste_lines(&site.shop_ids(), measure, &[days])
        .await
        .map_err(WebError::fault)?;
    Ok(sums.iter().map(|sum| (sum.vessel, sum.mass_g)).collect())
}

fn together(sums: &[(Option<PlaceId>, i64)]) -> i64 {
    sums.iter().map(|(_, g)| g).sum()
}

const NOT_STATED: &str = "not stated";

/// What was shipped, by the way it went, with the numbers of the papers. What the list of waste calls
/// it is told by the determination that covers its vessel on the day.
async fn sent(
    read: &mut Read,
    site: &OnSite,
    shipped: &[FlowLine],
) -> Result<BTreeMap<Way, Sent>, WebError> {
    let seqs: Vec<i64> = shipped.iter().map(|line| line.seq).collect();
    let rows = read.list_facts_at(&seqs).await.map_err(WebError::fault)?;
    let mut papers = BTreeMap::new();
    for row in rows {
        if let What::Job(job) = row.fact().map_err(WebError::fault)?.what
            && let Some(Details::Ship {
                carrier,
                document,
                destination,
                treatment,
            }) = job.details
        {
            papers.insert(row.seq, (carrier, document, destination, treatment));
        }
    }
    let mut sent: BTreeMap<Way, Sent> = BTreeMap::new();
    for line in shipped {
        let (carrier, document, destination, treatment) = match papers.get(&line.seq).cloned() {
            Some((carrier, document, to, code)) => (Some(carrier), Some(document), to, code),
            None => (None, None, None, None),
        };
        let or_not = |said: Option<String>| said.unwrap_or_else(|| NOT_STATED.to_owned());
        let profile = site.stated.profile_on(line.day, profiles()?);
        let way = Way {
            entry: profile.filter(|of| of.waste_list.is_some()).map(|of| {
                let entry = site.stated.list_entry(of, (line.vessel, line.day));
                entry.map_or_else(|| "not determined".to_owned(), |entry| entry.value.clone())
            }),
            destination: or_not(destination),
            carrier: or_not(carrier),
            treatment: or_not(treatment),
        };
        let sum = sent.entry(way).or_default();
        sum.papers.insert(or_not(document));
        match line.mass_g {
            Some(g) => sum.g = sum.g.saturating_add(g),
            None => sum.without_mass = sum.without_mass.saturating_add(1),
        }
    }
    Ok(sent)
}

/// GET /waste/streams.csv
pub(crate) async fn file(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let span = span_asked(&desk, &site, &mut form);
    let (Some(first), Some(last)) = (span.first().copied(), span.last().copied()) else {
        return Err(WebError::NotFound);
    };
    let streams = Streams::of(&mut read, (&site, (first, last))).await?;
    let mut csv = Csv::default();
    let report = ("R9 annual totals by stream", Period::Months(first, last));
    ReportHead::of((&desk, &site), report, streams.counted())?.above(&mut csv);
    csv.row(&[
        "stream",
        "at first kg",
        "came in kg",
        "into units kg",
        "shipped kg",
        "other ways out kg",
        "by dips and readings kg",
        "by mixing kg",
        "at last kg",
        "became waste kg",
        "decided to be reclaimed kg",
        "reused kg",
        "vessels without a known mass",
    ]);
    for of in &streams.all {
        let mut cells = vec![of.word.to_owned()];
        cells.extend(of.cells().map(|(_, g)| kg(g)));
        cells.push(of.balance.without_mass.to_string());
        csv.row(&cells);
    }
    csv.row::<&str>(&[]);
    csv.row(&[
        "list entry",
        "origin",
        "facility",
        "carrier",
        "treatment or method code",
        &streams.paper,
        "shipped kg",
        "loads without a known mass",
    ]);
    for (way, sent) in &streams.sent {
        let papers: Vec<String> = sent.papers.iter().cloned().collect();
        csv.row(&[
            way.entry.clone().unwrap_or_default(),
            Csv::text(&streams.origin),
            Csv::text(&way.destination),
            Csv::text(&way.carrier),
            Csv::text(&way.treatment),
            Csv::text(&papers.join(" ")),
            kg(sent.g),
            sent.without_mass.to_string(),
        ]);
    }
    Check::write_all(&mut csv, &streams.checks());
    csv.answer(&format!("waste-streams-{first}-{last}"))
}

//! The reports as files: R1, what became waste in a month, line by line; R2 and R9, the months of a
//! year with what each counts as and where the coolant went.

use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::quantity::Mass;
use domain::rules::counting::Counts;
use domain::waste::{Generation, Others, SiteFigure, SiteStatement};

use super::export::{Csv, kg, litres};
use super::lines::{density, in_words, names};
use super::year::{YearMonth, months_of, span_asked};
use super::{LOCAL_RULES, OnSite, passed, profiles};
use crate::WebError;
use crate::desk::Desk;
use crate::figure;
use crate::form::Form;

/// What stands above every table: whose figures these are, of when, by which rules.
pub(super) fn above(
    csv: &mut Csv,
    desk: &Desk,
    (site, report): (&OnSite, &str),
    (period, rows): (&str, usize),
) -> Result<(), WebError> {
    let last = Month::try_from(period.rsplit(' ').next().unwrap_or(period).to_owned());
    let on = last.map_or_else(|_| desk.today(), Month::last_day);
    let profile = site.stated.profile_on(on, profiles()?);
    let profile = profile.map_or("none chosen", |profile| profile.id.as_str());
    for (what, value) in [
        ("report", report.to_owned()),
        ("site", Csv::text(&site.name)),
        ("period", period.to_owned()),
        ("rules", profile.to_owned()),
        ("made at", figure::time(desk.now_ms(), desk.zone())),
        ("made by", Csv::text(&desk.person.handle)),
        ("rows", rows.to_string()),
        ("filter", "all shops of the site".to_owned()),
        (
            "record head",
            format!("{} {}", site.head.seq, site.head.hash_hex()),
        ),
        ("note", LOCAL_RULES.to_owned()),
    ] {
        csv.row(&[what.to_owned(), value]);
    }
    csv.row::<&str>(&[]);
    Ok(())
}

/// GET /waste/lines.csv
pub(crate) async fn monthly(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let month = site.month_asked(&desk, &mut form);
    let mut list = site
        .list(&mut read, (month.first_day(), month.last_day()))
        .await?;
    list.extend(passed::of_month(&mut read, &site, month).await?);
    let names = names(&mut read, &list).await?;
    let mut csv = Csv::default();
    let about = (&site, "R1 monthly generation log");
    above(&mut csv, &desk, about, (&month.to_string(), list.len()))?;
    csv.row(&[
        "day",
        "event",
        "kind",
        "vessel",
        "stream",
        "volume at 20 °C L",
        "density at 20 °C kg/m³",
        "mass kg",
        "counted kg",
        "not counted kg",
        "perhaps counted kg",
        "reason and section",
    ]);
    for listed in &list {
        let line = &listed.line;
        let counted = Generation::line(&listed.waste, &site.stated, profiles()?);
        let own = |counts: Counts| {
            let mass = line
                .mass_g
                .filter(|_| counted.map(|it| it.counts) == Some(counts));
            mass.map(kg).unwrap_or_default()
        };
        csv.row(&[
            line.day.to_string(),
            line.seq.to_string(),
            line.kind.replace('_', " "),
            Csv::text(&line.vessel.map(|id| names.place(id)).unwrap_or_default()),
            passed::word(listed.waste.came).to_owned(),
            litres(line.shown_ml),
            density(line)
                .map(|said| said.trim_end_matches(" kg/m³").to_owned())
                .unwrap_or_default(),
            line.mass_g.map(kg).unwrap_or_default(),
            own(Counts::Yes),
            own(Counts::No),
            own(Counts::Perhaps),
            in_words(&site, &listed.waste)?,
        ]);
    }
    Ok(csv.answer(&format!("waste-{month}")))
}

/// GET /waste/months.csv
pub(crate) async fn months(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let span = span_asked(&desk, &site, &mut form);
    let (Some(first), Some(until)) = (span.first().copied(), span.last().copied()) else {
        return Err(WebError::NotFound);
    };
    let months = months_of(&mut read, (&site, &span)).await?;
    let mut csv = Csv::default();
    let about = (&site, "R2 and R9 months of a year");
    let period = format!("{first} to {until}");
    above(&mut csv, &desk, about, (&period, span.len()))?;
    csv.row(&[
        "month",
        "recovered L",
        "recovered kg",
        "reused L",
        "reused kg",
        "to be reclaimed kg",
        "became waste L",
        "became waste kg",
        "shipped L",
        "shipped kg",
        "counted coolant kg",
        "perhaps counted coolant kg",
        "not counted coolant kg",
        "coolant outside any class kg",
        "lines without a known mass (the masses are at least so much)",
        "other hazardous waste kg",
        "other acute kg",
        "class",
        "class in the worst case",
        "rose from",
        "other waste stated",
        "rules",
        "lines come to the total",
        "closed",
        "as signed: counted coolant kg",
        "as signed: perhaps counted coolant kg",
        "as signed: not counted coolant kg",
        "as signed: coolant outside any class kg",
        "as signed: other hazardous waste kg",
        "as signed: other acute kg",
        "as signed: class",
        "as signed: class in the worst case",
    ]);
    for month in &months {
        csv.row(&cells(month));
    }
    Ok(csv.answer(&format!("waste-months-{first}-{until}")))
}

fn cells(year_month: &YearMonth) -> Vec<String> {
    let found = &year_month.found;
    let of = |measure| {
        let mut totals = year_month.totals.iter();
        totals.find(|total| total.measure == measure)
    };
    let ml = |measure| litres(of(measure).map_or(0, |total| total.shown_ml));
    let mass = |measure| kg(of(measure).map_or(0, |total| total.mass_g));
    let grams = |mass: Mass| kg(mass.g());
    let class = |standing| found.code(standing).unwrap_or_default();
    let listed = year_month.listed_g;
    let became = of(Measure::BecameWaste).map_or(0, |total| total.mass_g);
    let mut cells = vec![
        year_month.month.to_string(),
        ml(Measure::Recovered),
        mass(Measure::Recovered),
        ml(Measure::Reused),
        mass(Measure::Reused),
        mass(Measure::Reclaimed),
        ml(Measure::BecameWaste),
        mass(Measure::BecameWaste),
        ml(Measure::Shipped),
        mass(Measure::Shipped),
        grams(found.coolant_firm),
        grams(found.coolant_perhaps),
        grams(found.coolant_not_counted),
        grams(found.coolant_not_judged),
        found.lines_without_mass.to_string(),
        grams(found.other_non_acute),
        grams(found.other_acute),
        class(found.standing),
        class(found.worst),
        year_month.rose_from.clone().unwrap_or_default(),
        match found.others {
            Others::NotStated => "coolant only, incomplete".to_owned(),
            Others::None => "none".to_owned(),
            Others::Streams(streams) => format!("{streams} streams"),
        },
        found
            .profile
            .map(|profile| profile.id.clone())
            .unwrap_or_default(),
        if listed == became {
            "yes".to_owned()
        } else {
            format!("no, they come to {} kg", kg(listed))
        },
        if year_month.kept.is_empty() {
            "no"
        } else {
            "yes"
        }
        .to_owned(),
    ];
    cells.extend(cells_signed(year_month.signed()));
    cells
}

/// What was signed of a month, in the order of the columns "as signed"; empty where nothing was.
fn cells_signed(signed: Option<&SiteStatement>) -> impl Iterator<Item = String> {
    let masses = SiteFigure::ALL
        .map(|figure| signed.map_or_else(String::new, |signed| kg(signed.g(figure))));
    let class = signed.and_then(|signed| signed.class.clone());
    let worst = signed.and_then(|signed| signed.worst.clone());
    masses
        .into_iter()
        .chain([class.unwrap_or_default(), worst.unwrap_or_default()])
}

//! `/waste/close`: the statement of a month of the whole site, looked through and signed by the
//! compliance officer, and shown as it was signed ever after.

use std::collections::{BTreeSet, HashMap};

use askama::Template;
use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use domain::book::month::{FlowTotal, Month, Statement, VesselStatement};
use domain::fact::{MonthClosed, QuestionId, What};
use domain::fleet::{Role, Shop};
use domain::ids::{FactKey, ShopId};
use domain::quantity::UnitsOfMeasure;
use domain::waste::{ContainerStanding, SiteStatement, Waste, in_force, may_close};
use storage::{JobRow, Read};

use super::closed::{Kept, adjustments, left_out, word_of_figure};
use super::head::{Period, ReportHead, Rows};
use super::month::{TOTALS, mass_of};
use super::{OnSite, add_to, container, kilograms, month_asked, wastes};
use crate::card::{self, Before, Saved, Saving};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::intake::{derived, read_zone};
use crate::record::{Names, Wanted, number};
use crate::{WebError, figure, page};

/// Those who sign a statement.
const SIGN: &[Role] = &[Role::ComplianceOfficer];

#[derive(Template)]
#[template(path = "waste/close.html")]
struct ClosePage {
    frame: Frame,
    month: Month,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    /// What came in since the page was opened: number and address of each.
    since: Vec<(String, String)>,
    /// Who signed it and when; none while the month is open.
    signed: Option<String>,
    /// The closing in the record.
    entry: Option<String>,
    adjustments: Vec<String>,
    /// Shops of the site that came to it after the closing.
    left_out: Vec<String>,
    /// Why it cannot be closed.
    against: Option<String>,
    totals: Vec<Line>,
    class: Option<ClassPart>,
    open: Vec<OpenLine>,
    not_determined: Vec<String>,
    containers: Vec<ContainerLine>,
    shops: Vec<ShopPart>,
    /// What the button sends, for whoever may sign: what was shown, and at which head.
    sign: Option<(Print, i64)>,
    /// The head of the record that the statement was drawn up at.
    drawn_up: String,
    head: ReportHead,
}

struct Line {
    word: &'static str,
    volume: String,
    mass: String,
    address: String,
    lines: String,
}

/// What the month counts as.
struct ClassPart {
    said: String,
    figures: Vec<(&'static str, String)>,
    others: Vec<(String, String)>,
    nobody_said: bool,
    without_mass: i64,
}

struct OpenLine {
    address: String,
    /// "2026-09-14, recover 4204".
    entry: String,
    question: String,
}

struct ContainerLine {
    name: String,
    address: String,
    start: String,
    held: String,
    mass: String,
}

struct ShopPart {
    name: String,
    rows: Vec<VesselLine>,
}

struct VesselLine {
    name: String,
    address: String,
    opening: String,
    taken_in: String,
    given_out: String,
    mixing: String,
    closing: String,
    mass: String,
}

/// Tells a statement from another one: somebody signs what they saw.
type Print = String;

fn print(closed: &MonthClosed) -> Result<Print, WebError> {
    let mut seen = closed.clone();
    // What came in since about other months is no reason to look again.
    for statement in std::iter::once(&mut seen.statement).chain(&mut seen.other_shops) {
        statement.head_seq = 0;
        statement.head_hash.clear();
    }
    let text = storage::canonical(&seen).map_err(WebError::fault)?;
    Ok(derived::fact_key("statement", &[&text]).to_string())
}

/// Draws the statement of a month up, of the site with all its shops.
async fn draw_up(
    desk: &Desk,
    read: &mut Read,
    (site, month): (&OnSite, Month),
) -> Result<MonthClosed, WebError> {
    let mut statements = Vec::new();
    for shop in site.shop_ids() {
        statements.push(Statement {
            shop,
            month,
            flows: read
                .list_month_totals(Some(shop), (month, month))
                .await
                .map_err(WebError::fault)?,
            vessels: read
                .list_vessel_statements(shop, (month, month))
                .await
                .map_err(WebError::fault)?
                .into_iter()
                .map(|(_, statement, _)| statement)
                .collect(),
            head_seq: site.head.seq,
            head_hash: site.head.hash_hex(),
        });
    }
    let days = (month.first_day(), month.last_day());
    let list = site.list(read, days).await?;
    let lines: Vec<Waste> = wastes(&list).collect();
    let found = site.generation(month, lines.iter().copied())?;
    let questions = questions(read, (site, month)).await?;
    let containers = container::standing(desk, read, site).await?;
    let counted = SiteStatement::of(
        desk.shop.site,
        &found,
        (&lines, &site.stated, in_force(month, &site.others)),
        (questions, containers),
    );
    let mut statements = statements.into_iter();
    let statement = statements.next().ok_or(WebError::NotFound)?;
    Ok(MonthClosed {
        statement,
        other_shops: statements.collect(),
        site: Some(counted),
    })
}

/// The open questions about facts of the month, in a fixed order.
async fn questions(
    read: &mut Read,
    (site, month): (&OnSite, Month),
) -> Result<Vec<QuestionId>, WebError> {
    let mut all = BTreeSet::new();
    for shop in site.shop_ids() {
        let open = read.list_open_questions_of_month(shop, month).await;
        all.extend(open.map_err(WebError::fault)?.iter().map(|asked| asked.id));
    }
    Ok(all.into_iter().collect())
}

/// The earliest date in any shop of the site: its month is over when it is over everywhere.
fn earliest_today(desk: &Desk, site: &OnSite) -> NaiveDate {
    let zones = site.shops.iter().map(zone_of);
    earliest(desk.now(), zones).unwrap_or(desk.today())
}

fn zone_of(shop: &Shop) -> Tz {
    read_zone(&shop.zone).unwrap_or(Tz::UTC)
}

fn earliest(now: DateTime<Utc>, zones: impl Iterator<Item = Tz>) -> Option<NaiveDate> {
    zones
        .map(|zone| now.with_timezone(&zone).date_naive())
        .min()
}

/// The officer of every shop of the site.
async fn may_sign(desk: &Desk, read: &mut Read, site: &OnSite) -> Result<bool, WebError> {
    for shop in site.shop_ids() {
        let roles = desk.roles_in(read, shop).await?;
        if !roles.iter().any(|role| SIGN.contains(role)) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// GET /waste/close
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let month = month_asked(&desk, &mut form);
    draw(&desk, month, Told::of(&Form::default())).await
}

/// So many times a statement is drawn up anew because other entries came in between drawing it up and
/// writing it. Our own default.
const TRIES: usize = 8;

/// What was pressed: the month, the print of what was shown, and the head of the record it was shown at.
struct Pressed {
    month: Month,
    seen: Print,
    shown_at: i64,
    as_sent: Vec<u8>,
}

/// POST /waste/close
pub(crate) async fn submit(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let asked = Month::try_from(form.ask("month"));
    let seen = form.ask("seen");
    let shown_at = form.whole(("head", "Form"), (0, i64::MAX), Presence::Needed);
    form.refuse_what_was_not_asked();
    let Ok(month) = asked else {
        form.note("", "Month", "is to be written like 2026-09");
        return draw(&desk, Month::of(desk.today()), Told::of(&form)).await;
    };
    let pressed = Pressed {
        month,
        seen,
        shown_at: shown_at.unwrap_or_default(),
        as_sent,
    };
    for _ in 0..TRIES {
        if let Some(answer) = sign(&desk, &mut form, &pressed).await? {
            return Ok(answer);
        }
    }
    let text = "other entries came in again and again at this moment; nothing is signed, press the button once more";
    form.note("", "Statement", text);
    draw(&desk, month, Told::of(&form)).await
}

/// Signs a statement that is what was shown, or says why not; none where the record went on between
/// drawing it up and writing it.
async fn sign(
    desk: &Desk,
    form: &mut Form,
    pressed: &Pressed,
) -> Result<Option<Response>, WebError> {
    let month = pressed.month;
    let mut read = desk.read().await?;
    let site = OnSite::read(desk, &mut read).await?;
    if !may_sign(desk, &mut read, &site).await? {
        return Err(WebError::NotAllowed { roles: SIGN });
    }
    // However many people press, a month is closed once.
    let key: FactKey =
        derived::fact_key("close", &[&desk.shop.site.to_string(), &month.to_string()]);
    let back = || Redirect::to(&format!("/waste/close?month={month}")).into_response();
    if card::key_before(desk, key, &pressed.as_sent).await? == Before::SameForm {
        return Ok(Some(back()));
    }
    if let Some(why) = against(desk, &mut read, (&site, month)).await? {
        form.note("", "Month", format!("{month} was not closed: {why}"));
    }
    let drawn = draw_up(desk, &mut read, (&site, month)).await?;
    let since = came_since(&mut read, (&site, month), pressed.shown_at).await?;
    let differs = pressed.seen != print(&drawn)?;
    if form.is_good() && (differs || !since.is_empty()) {
        form.note(
            "",
            "Statement",
            changed_meanwhile(month, differs, since.len()),
        );
    }
    if read.count_stale_places().await.map_err(WebError::fault)? > 0 {
        let text = "figures are being worked out again after a late entry; look again in a moment";
        form.note("", "Statement", text);
    }
    drop(read);
    if !form.is_good() {
        let told = Told {
            since,
            ..Told::of(form)
        };
        return Ok(Some(draw(desk, month, told).await?));
    }
    if let Some(answer) = desk.must_prove(form) {
        return Ok(Some(answer));
    }
    let saving = Saving {
        key,
        what: What::MonthClosed(Box::new(drawn)),
        after: None,
        as_sent: pressed.as_sent.clone(),
        acting: SIGN,
    };
    Ok(match card::save_at(desk, saving, site.head.seq).await? {
        None => None,
        Some(Saved::OnRecord | Saved::Overtaken) => Some(back()),
        Some(Saved::NotConfirmed) => {
            let told = Told {
                not_confirmed: true,
                ..Told::of(form)
            };
            Some(draw(desk, month, told).await?)
        }
    })
}

/// Why a month cannot be closed.
async fn against(
    desk: &Desk,
    read: &mut Read,
    (site, month): (&OnSite, Month),
) -> Result<Option<String>, WebError> {
    let is_closed = !Kept::all(read, site, month).await?.is_empty();
    let why = may_close(
        (month, site.begins(desk)),
        earliest_today(desk, site),
        is_closed,
    )
    .err();
    Ok(why.map(|why| why.to_string()))
}

/// Facts of the month that came in since a head of the record, by place; the first of them.
async fn came_since(
    read: &mut Read,
    (site, month): (&OnSite, Month),
    head: i64,
) -> Result<Vec<i64>, WebError> {
    let mut all = Vec::new();
    for shop in site.shop_ids() {
        let one_more = i64::try_from(MOST_NAMED)
            .unwrap_or(i64::MAX)
            .saturating_add(1);
        let own = read.list_facts_of_month_after((shop, month), head, one_more);
        all.extend(own.await.map_err(WebError::fault)?);
    }
    all.sort_unstable();
    Ok(all)
}

/// So many entries are named that came in while a statement was looked through.
const MOST_NAMED: usize = 50;

fn changed_meanwhile(month: Month, differs: bool, since: usize) -> String {
    let came = match since {
        0 => String::new(),
        1 => format!("one entry of {month} came in"),
        many if many > MOST_NAMED => {
            format!("more than {MOST_NAMED} entries of {month} came in")
        }
        many => format!("{many} entries of {month} came in"),
    };
    let said = match (differs, since) {
        (true, 0) => "the figures changed since this page was opened".to_owned(),
        (true, _) => format!("the figures changed since this page was opened: {came}"),
        (false, _) => format!("{came} since this page was opened"),
    };
    format!("{said}. It is drawn up anew below; look through it, then sign")
}

/// What a page tells beside the statement.
struct Told<'a> {
    form: &'a Form,
    not_confirmed: bool,
    /// What came in since the page was opened.
    since: Vec<i64>,
}

impl<'a> Told<'a> {
    const fn of(form: &'a Form) -> Self {
        Self {
            form,
            not_confirmed: false,
            since: Vec::new(),
        }
    }
}

/// The month as it was signed, or as it would be.
async fn draw(desk: &Desk, month: Month, told: Told<'_>) -> Result<Response, WebError> {
    let form = told.form;
    let mut read = desk.read().await?;
    let site = OnSite::read(desk, &mut read).await?;
    let month = site.within(desk, month);
    let kept = Kept::all(&mut read, &site, month).await?;
    let against = against(desk, &mut read, (&site, month)).await?;
    let against = against.map(|why| page::sentence(&why));
    let found = statement(desk, &mut read, (&site, month), &kept).await?;
    let shown = &found.closed;
    let names = names(&mut read, shown).await?;
    let may = against.is_none() && may_sign(desk, &mut read, &site).await?;
    let (status, title) = match (form.is_good(), told.not_confirmed) {
        (_, true) => (StatusCode::SERVICE_UNAVAILABLE, "Not confirmed: "),
        (false, false) => (StatusCode::UNPROCESSABLE_ENTITY, "Not saved: "),
        (true, false) => (StatusCode::OK, ""),
    };
    let units = desk.units();
    let shop_name = |id| {
        let shop = site.shops.iter().find(|shop| shop.id == id);
        shop.map_or_else(|| names.shop(id), |shop| shop.name.clone())
    };
    let drawn_up = format!(
        "event {}, {}",
        number(units, shown.statement.head_seq),
        shown.statement.head_hash
    );
    let page = ClosePage {
        drawn_up,
        frame: desk.frame(format!("{title}Closing of {month}")),
        month,
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: told.not_confirmed,
        since: told
            .since
            .iter()
            .map(|seq| (number(units, *seq), format!("/records/{seq}")))
            .collect(),
        left_out: found.left_out.into_iter().map(shop_name).collect(),
        signed: found.signed,
        entry: kept.first().map(|first| format!("/records/{}", first.seq)),
        adjustments: found.adjustments,
        against,
        totals: totals(units, shown),
        class: shown.site.as_ref().map(|site| class(units, site)),
        open: open(&mut read, shown.site.as_ref()).await?,
        not_determined: not_determined(&names, shown.site.as_ref()),
        containers: containers(units, &names, shown.site.as_ref()),
        shops: shown
            .statements()
            .map(|of| shop_part(units, &names, (of, shop_name(of.shop))))
            .collect(),
        sign: if may {
            Some((print(shown)?, site.head.seq))
        } else {
            None
        },
        head: ReportHead::of(
            (desk, &site),
            ("Statement of a month", Period::of_month(month)),
            rows_of(shown),
        )?,
    };
    Ok((status, page::shown(&page)).into_response())
}

/// How many rows the tables of a statement have.
fn rows_of(shown: &MonthClosed) -> Vec<Rows> {
    let vessels = shown.statements().map(|of| of.vessels.len()).sum();
    let site = shown.site.as_ref();
    vec![
        ("totals", TOTALS.len()),
        (
            "open questions",
            site.map_or(0, |site| site.open.questions.len()),
        ),
        ("containers", site.map_or(0, |site| site.containers.len())),
        ("vessels", vessels),
    ]
}

/// A statement with what is to be said of it.
struct Stated {
    closed: MonthClosed,
    signed: Option<String>,
    adjustments: Vec<String>,
    left_out: Vec<ShopId>,
}

/// The statement of a month: as it was signed, else as it would be.
async fn statement(
    desk: &Desk,
    read: &mut Read,
    (site, month): (&OnSite, Month),
    kept: &[Kept],
) -> Result<Stated, WebError> {
    let Some((first, closed)) = kept.first().zip(together(kept)) else {
        return Ok(Stated {
            closed: draw_up(desk, read, (site, month)).await?,
            signed: None,
            adjustments: Vec::new(),
            left_out: Vec::new(),
        });
    };
    let sums = site.sums(read, (month, month)).await?;
    let by_now = site.generation(month, sums)?;
    Ok(Stated {
        closed,
        signed: Some(first.by(desk, read).await?),
        adjustments: adjustments(desk, read, &by_now, kept).await?,
        left_out: left_out(site, kept),
    })
}

/// What was signed for the shops of a site: one statement, or several of shops that were closed for
/// themselves.
fn together(kept: &[Kept]) -> Option<MonthClosed> {
    let mut all = kept.iter().map(|kept| kept.closed.clone());
    let mut first = all.next()?;
    for next in all {
        first.other_shops.extend(next.statements().cloned());
    }
    Some(first)
}

async fn names(read: &mut Read, shown: &MonthClosed) -> Result<Names, WebError> {
    let mut wanted = Wanted::default();
    let vessels = shown.statements().flat_map(|statement| &statement.vessels);
    wanted.places.extend(vessels.map(|each| each.vessel));
    if let Some(site) = &shown.site {
        wanted.places.extend(&site.open.not_determined);
        let containers = site.containers.iter().map(|each| each.vessel);
        wanted.places.extend(containers);
    }
    Names::of(read, wanted).await
}

fn totals(units: UnitsOfMeasure, shown: &MonthClosed) -> Vec<Line> {
    let mut sums: Vec<FlowTotal> = Vec::new();
    for flow in shown.statements().flat_map(|statement| &statement.flows) {
        add_to(&mut sums, *flow);
    }
    let month = shown.statement.month;
    TOTALS
        .into_iter()
        .map(|(measure, word)| {
            let total = sums.iter().find(|total| total.measure == measure);
            Line {
                word,
                volume: figure::volume(units, total.map_or(0, |total| total.shown_ml)),
                mass: mass_of(units, total),
                address: format!("/waste/lines?month={month}&total={}", measure.code()),
                lines: number(units, total.map_or(0, |total| total.lines)),
            }
        })
        .collect()
}

fn class(units: UnitsOfMeasure, of: &SiteStatement) -> ClassPart {
    let said = match (&of.profile, &of.class, &of.worst) {
        (Some(profile), Some(class), Some(worst)) if class != worst => format!(
            "{class} by what counts for certain, {worst} in the worst case. Rules: {profile}."
        ),
        (Some(profile), Some(class), _) => format!("{class}. Rules: {profile}."),
        (Some(profile), None, _) => format!("No class: the rules {profile} have none."),
        (None, ..) => "No class: no rules were chosen for the site.".to_owned(),
    };
    let streams = of.others.iter().filter_map(|other| other.stream.as_ref());
    ClassPart {
        said,
        figures: of
            .masses
            .iter()
            .map(|mass| (word_of_figure(mass.figure), kilograms(units, mass.g)))
            .collect(),
        others: streams
            .map(|stream| (stream.name.clone(), kilograms(units, stream.mass.value.g())))
            .collect(),
        nobody_said: of.others.is_empty(),
        without_mass: of.open.lines_without_mass,
    }
}

async fn open(read: &mut Read, of: Option<&SiteStatement>) -> Result<Vec<OpenLine>, WebError> {
    let asked = of.map_or(&[][..], |of| &of.open.questions);
    let keys: Vec<FactKey> = asked.iter().map(|asked| asked.job).collect();
    let jobs = read
        .list_jobs_by_key(&keys)
        .await
        .map_err(WebError::fault)?;
    let jobs: HashMap<FactKey, JobRow> = jobs.into_iter().map(|job| (job.order.key, job)).collect();
    let lines = asked.iter().map(|asked| {
        let question = asked.kind.code().replace('_', " ");
        let Some(job) = jobs.get(&asked.job) else {
            return OpenLine {
                address: "/checking".to_owned(),
                entry: "an entry that is no job".to_owned(),
                question,
            };
        };
        let unit = job.unit_number.as_deref().unwrap_or_default();
        let kind = job.kind.replace('_', " ");
        OpenLine {
            address: format!("/jobs/{}", asked.job),
            entry: format!("{}, {kind} {unit}", job.local_date),
            question,
        }
    });
    Ok(lines.collect())
}

fn not_determined(names: &Names, of: Option<&SiteStatement>) -> Vec<String> {
    let vessels = of.into_iter().flat_map(|of| &of.open.not_determined);
    vessels.map(|vessel| names.place(*vessel)).collect()
}

fn containers(
    units: UnitsOfMeasure,
    names: &Names,
    of: Option<&SiteStatement>,
) -> Vec<ContainerLine> {
    let standing = of.into_iter().flat_map(|of| &of.containers);
    standing
        .map(|it| container_line(units, names, it))
        .collect()
}

fn container_line(
    units: UnitsOfMeasure,
    names: &Names,
    standing: &ContainerStanding,
) -> ContainerLine {
    ContainerLine {
        name: names.place(standing.vessel),
        address: format!("/vessels/{}", standing.vessel),
        start: standing
            .start
            .map_or_else(|| "none".to_owned(), |day| day.to_string()),
        held: figure::volume(units, standing.held_ml),
        mass: mass_known(units, standing.mass_g),
    }
}

fn mass_known(units: UnitsOfMeasure, g: Option<i64>) -> String {
    g.map_or_else(|| "not known".to_owned(), |g| kilograms(units, g))
}

fn shop_part(
    units: UnitsOfMeasure,
    names: &Names,
    (statement, name): (&Statement, String),
) -> ShopPart {
    let vessels = &statement.vessels;
    let is_empty = |it: &VesselStatement| {
        it.opening.is_empty() && it.taken_in.is_empty() && it.given_out.is_empty()
    };
    ShopPart {
        name,
        rows: vessels
            .iter()
            .filter(|vessel| !is_empty(vessel))
            .map(|vessel| vessel_line(units, names, vessel))
            .collect(),
    }
}

fn vessel_line(units: UnitsOfMeasure, names: &Names, of: &VesselStatement) -> VesselLine {
    let volume = |ml| figure::volume(units, ml);
    VesselLine {
        name: names.place(of.vessel),
        address: format!("/vessels/{}", of.vessel),
        opening: volume(of.opening.shown_ml()),
        taken_in: volume(of.taken_in.shown_ml()),
        given_out: volume(of.given_out.shown_ml()),
        mixing: figure::volume_change(units, of.mixing_ml()),
        closing: volume(of.closing.shown_ml()),
        mass: mass_known(units, of.closing.mass_g()),
    }
}

#[cfg(test)]
mod tests {
    use chrono::{TimeZone, Utc};
    use chrono_tz::Tz;
    use domain::book::month::Month;
    use domain::waste::{CannotClose, may_close};

    use super::earliest;

    /// Denver is six hours behind UTC in September (the zone data of chrono-tz).
    #[test]
    fn a_month_is_over_when_it_is_over_in_every_shop() {
        let now = Utc.with_ymd_and_hms(2026, 10, 1, 5, 30, 0).unwrap();
        let today = |zones: &[Tz]| earliest(now, zones.iter().copied()).unwrap();
        let september = Month::try_from("2026-09".to_owned()).unwrap();
        let close = |zones: &[Tz]| may_close((september, september), today(zones), false);
        assert_eq!(close(&[Tz::UTC]), Ok(()));
        let ends = Err(CannotClose::NotEnded(september.last_day()));
        assert_eq!(close(&[Tz::UTC, Tz::America__Denver]), ends);
        assert_eq!(earliest(now, std::iter::empty()), None);
    }
}

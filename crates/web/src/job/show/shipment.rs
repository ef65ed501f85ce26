//! A shipment on its page: where it left from, how much, whether it is signed, and what to look at before
//! it is.

use domain::book::contents::Contents;
use domain::ids::PlaceId;
use domain::job::Account;
use domain::quantity::UnitsOfMeasure;
use storage::{PostingRow, Read};

use crate::desk::Desk;
use crate::job::sign::Signature;
use crate::job::told::Told;
use crate::record::Names;
use crate::{WebError, figure, waste};

pub(super) struct Shipment {
    pub(super) signature: Signature,
    /// The site it left from, as a paper names it.
    pub(super) left_from: Option<String>,
    /// How much left.
    pub(super) load: String,
    /// The same of each vessel, where it came out of several.
    pub(super) loads: Vec<String>,
    /// What to look at before it is signed.
    pub(super) before_sign: Vec<waste::Point>,
}

impl Shipment {
    /// None for a job that is no shipment, and for one that does not count any more.
    pub(super) async fn of(
        desk: &Desk,
        read: &mut Read,
        ((told, names), postings): ((&Told, &Names), &[PostingRow]),
    ) -> Result<Option<Self>, WebError> {
        let Some(signature) = Signature::of(desk, read, told).await? else {
            return Ok(None);
        };
        let before_sign = match &signature {
            Signature::Open(_) => before_sign(desk, read, (told, postings)).await?,
            Signature::Signed(_) => Vec::new(),
        };
        Ok(Some(Self {
            signature,
            left_from: left_from(read, told).await?,
            load: load(desk.units(), shipped(postings)),
            loads: loads(desk.units(), (told, postings), names),
            before_sign,
        }))
    }
}

/// The site a shipment left from.
async fn left_from(read: &mut Read, told: &Told) -> Result<Option<String>, WebError> {
    let shop = read.find_shop(told.job.shop).await;
    match (
        shop.map_err(WebError::fault)?,
        told.stands.local_date.parse(),
    ) {
        (Some(shop), Ok(day)) => waste::left_from(read, (&shop, day)).await.map(Some),
        _ => Ok(None),
    }
}

/// What to look at before a shipment is signed.
async fn before_sign(
    desk: &Desk,
    read: &mut Read,
    (told, postings): (&Told, &[PostingRow]),
) -> Result<Vec<waste::Point>, WebError> {
    let Ok(day) = told.stands.local_date.parse() else {
        return Ok(Vec::new());
    };
    let mut cards = Vec::new();
    for place in loaded(told, postings) {
        cards.extend(read.find_vessel(place).await.map_err(WebError::fault)?);
    }
    let shop = read.find_shop(told.job.shop).await;
    let Some(shop) = shop.map_err(WebError::fault)? else {
        return Ok(Vec::new());
    };
    let mut points = questions(desk, read, told).await?;
    let at = (told.stands.order, day);
    points.extend(waste::before_sign(desk, read, (&shop, &cards, at)).await?);
    Ok(points)
}

/// What is asked about the shipment and nobody has answered.
async fn questions(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Vec<waste::Point>, WebError> {
    let asked = read.list_questions_of_fact(told.key).await;
    let asked = asked.map_err(WebError::fault)?.into_iter();
    let open = asked.filter(|asked| asked.answer.is_none());
    let points = open.map(|asked| {
        let sentence = asked.question().sentence(desk.units());
        ("watch", format!("Not answered yet: {sentence}."))
    });
    Ok(points.collect())
}

/// The vessels a load came out of, in the order of its lines, as the book means them.
fn loaded(told: &Told, postings: &[PostingRow]) -> Vec<PlaceId> {
    let mut all = Vec::new();
    for (_, place) in told.taken_from(postings) {
        if !all.contains(&place) {
            all.push(place);
        }
    }
    all
}

/// What a carrier took, by the book.
fn shipped(postings: &[PostingRow]) -> impl Iterator<Item = &PostingRow> {
    let carrier = Account::Carrier.word();
    postings.iter().filter(move |it| it.to_account == carrier)
}

/// "D-6: 186.3 L, 201.114 kg, 1,079.5 kg/m³ at 20 °C" of each vessel; nothing where there is one.
fn loads(
    units: UnitsOfMeasure,
    (told, postings): (&Told, &[PostingRow]),
    names: &Names,
) -> Vec<String> {
    let vessels = loaded(told, postings);
    if vessels.len() < 2 {
        return Vec::new();
    }
    let of = |vessel: &PlaceId| {
        let own = shipped(postings).filter(|it| it.from_place == Some(*vessel));
        format!("{}: {}", names.place(*vessel), load(units, own))
    };
    vessels.iter().map(of).collect()
}

/// "186.3 L, 201.114 kg, 1,079.5 kg/m³ at 20 °C": all that a carrier took, by the book. Its mass is the sum of
/// the lines, each rounded to the gram, as reports have it.
fn load<'a>(units: UnitsOfMeasure, shipped: impl Iterator<Item = &'a PostingRow>) -> String {
    let mut left = Contents::default();
    let mut g = Some(0_i64);
    for posting in shipped {
        left.add(&posting.contents);
        g = g
            .zip(posting.contents.mass_g())
            .map(|(sum, own)| sum.saturating_add(own));
    }
    let volume = figure::volume(units, left.shown_ml());
    let Some(g) = g else {
        return format!("{volume} at 20 °C; mass and density not known");
    };
    let density = waste::density(units, (g, left.shown_ml()));
    let density = density.unwrap_or_else(|| "density not known".to_owned());
    format!(
        "{volume}, {}, {density} at 20 °C",
        waste::kilograms(units, g)
    )
}

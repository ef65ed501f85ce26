//! What an officer looks at before they sign a shipment: since when its waste stood there, whether it was
//! determined, what was written on the container, and what is left on the site.

use chrono::NaiveDate;
use domain::book::Order;
use domain::fact::ContainerChange;
use domain::fleet::{Holds, Shop, Vessel};
use domain::waste::Hazardous;
use storage::Read;

use super::OnSite;
use super::container::{known, on_the_site};
use crate::WebError;
use crate::desk::Desk;
use crate::record::number;

/// Statements of one kind about one container that are looked through.
const MOST: i64 = 200;

/// A line of the list: its look, and what it says.
pub(crate) type Point = (&'static str, String);

/// The list for what left containers of a shop with a job of this day at this place of the book, whatever
/// shop is looked at; none for what is no waste container.
pub(crate) async fn before_sign(
    desk: &Desk,
    read: &mut Read,
    (shop, cards, at): (&Shop, &[Vessel], (Order, NaiveDate)),
) -> Result<Vec<Point>, WebError> {
    let site = OnSite::of_shop(shop, read).await?;
    let shops = site.shop_ids();
    let waste = |card: &&Vessel| card.holds == Holds::Waste && shops.contains(&card.shop);
    let mut list = Vec::new();
    for card in cards.iter().filter(waste) {
        for (look, said) in of_container(desk, read, (&site, card, at)).await? {
            // Of several each point says whose it is.
            let named = cards.len() > 1;
            let of = named.then(|| format!("{}: ", card.name));
            list.push((look, format!("{}{said}", of.unwrap_or_default())));
        }
    }
    if !list.is_empty() {
        let (by, all) = known(desk, read, &site).await?;
        let left = on_the_site(desk.units(), &by, &all)?;
        list.push(("none", format!("Left on the site: {left}")));
    }
    Ok(list)
}

/// The points about one container.
async fn of_container(
    desk: &Desk,
    read: &mut Read,
    (site, card, (at, day)): (&OnSite, &Vessel, (Order, NaiveDate)),
) -> Result<[Point; 3], WebError> {
    let before = async |read: &mut Read, kind: &str| {
        let events = read.list_container_events((card.id, kind), MOST).await;
        let events = events.map_err(WebError::fault)?;
        let latest = events.into_iter().find(|event| event.order < at);
        Ok::<_, WebError>(latest.map(|event| event.event))
    };
    let start = match before(read, ContainerChange::StartDate(day).code()).await? {
        Some(ContainerChange::StartDate(start)) => Some(start),
        _ => card.start_date.filter(|start| *start <= day),
    };
    let words = match before(read, ContainerChange::Labelled(String::new()).code()).await? {
        Some(ContainerChange::Labelled(words)) => Some(words),
        _ => None,
    };
    let words = match words {
        Some(words) => ("ok", format!("Words on the label: {words}.")),
        None => (
            "watch",
            "No words on a label are on record: look at the container.".to_owned(),
        ),
    };
    let determined = match site.stated.determination_of(Some(card.id), day) {
        None => (
            "watch",
            "Its waste class is not set: nobody determined whether it is hazardous.".to_owned(),
        ),
        Some(of) if of.hazardous == Hazardous::No => {
            ("ok", "Determined not to be hazardous.".to_owned())
        }
        Some(of) if of.codes.is_empty() => ("ok", "Determined to be hazardous.".to_owned()),
        Some(of) => (
            "ok",
            format!("Determined to be hazardous: {}.", of.codes.join(", ")),
        ),
    };
    Ok([age(desk, (start, day)), words, determined])
}

fn age(desk: &Desk, (start, shipped): (Option<NaiveDate>, NaiveDate)) -> Point {
    let Some(start) = start else {
        return (
            "watch",
            "No start date was on record when it left.".to_owned(),
        );
    };
    let days = shipped.signed_duration_since(start).num_days();
    let word = if days == 1 { "day" } else { "days" };
    let days = number(desk.units(), days);
    (
        "none",
        format!("Its oldest waste counts from {start}: {days} {word} when it left."),
    )
}

//! `GET /tablet/list`: what a tablet keeps, to log jobs without network.

use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use domain::fleet::{Unit, Vessel};
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};
use storage::access::Tablet;
use uuid::Uuid;

use super::intake::Reply;
use crate::sign_on::{Door, tiles};
use crate::{AppState, WebError, job};

#[derive(Serialize)]
struct List {
    shop: Named,
    units: Vec<KnownUnit>,
    vessels: Vec<Named>,
    people: Vec<Named>,
    /// Kinds of jobs that are done on units, by code.
    kinds: Vec<Kind>,
}

#[derive(Serialize)]
struct Named {
    id: String,
    name: String,
}

#[derive(Serialize)]
struct KnownUnit {
    id: String,
    number: String,
    /// Of a unit with one loop nothing is to be chosen.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    loops: Vec<Named>,
}

#[derive(Serialize)]
struct Kind {
    kind: &'static str,
    name: String,
}

/// GET /tablet/list
pub(crate) async fn show(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let door = Door::find(&state, &headers).await?;
    let Some(tablet) = &door.tablet else {
        return Ok(Reply::not_enrolled().into_response());
    };
    let list = list(&state, (&door, tablet)).await?;
    let list = serde_json::to_value(&list).map_err(WebError::fault)?;
    let digest = Sha256::digest(list.to_string());
    let tag = digest.as_slice().first_chunk::<16>();
    let tag = tag.copied().map(Uuid::from_bytes).unwrap_or_default();
    let tag = HeaderValue::from_str(&format!("\"{tag}\"")).map_err(WebError::fault)?;
    if headers.get(header::IF_NONE_MATCH) == Some(&tag) {
        return Ok((StatusCode::NOT_MODIFIED, [(header::ETAG, tag)]).into_response());
    }
    let as_of = state.clock.now().timestamp_millis();
    let told = json!({ "as_of": as_of, "list": list });
    let mut response = Reply::of(StatusCode::OK, &told).into_response();
    response.headers_mut().insert(header::ETAG, tag);
    Ok(response)
}

async fn list(state: &AppState, (door, tablet): (&Door, &Tablet)) -> Result<List, WebError> {
    let people = tiles(state, tablet, ("", door.now)).await?;
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let shop = read.find_shop(tablet.shop).await.map_err(WebError::fault)?;
    let shop = shop.ok_or(WebError::NotFound)?;
    let units = read.list_units(shop.id).await.map_err(WebError::fault)?;
    let vessels = read.list_vessels(shop.id).await.map_err(WebError::fault)?;
    let mut people: Vec<Named> = people
        .into_iter()
        .map(|tile| Named {
            id: tile.id,
            name: format!("{}, {}", tile.handle, tile.name),
        })
        .collect();
    // Not by who was here last: the list is to stay the same as long as nobody comes or goes.
    people.sort_by(|one, other| one.name.cmp(&other.name));
    Ok(List {
        shop: Named {
            id: shop.id.to_string(),
            name: shop.name,
        },
        units: units.into_iter().map(known).collect(),
        vessels: vessels.into_iter().map(named).collect(),
        people,
        kinds: job::kinds_on_units()
            .map(|(kind, name)| Kind { kind, name })
            .collect(),
    })
}

fn known(unit: Unit) -> KnownUnit {
    let several = unit.loops.len() > 1;
    let loops = unit.loops.into_iter().filter(|_| several);
    KnownUnit {
        id: unit.id.to_string(),
        number: unit.number,
        loops: loops
            .map(|each| Named {
                id: each.id.to_string(),
                name: each.name,
            })
            .collect(),
    }
}

fn named(vessel: Vessel) -> Named {
    Named {
        id: vessel.id.to_string(),
        name: vessel.name,
    }
}

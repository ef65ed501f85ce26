//! `/screen-size`: how long a line comes out on this screen, so that buttons get the size of a glove.

use askama::Template;
use axum::body::Bytes;
use axum::extract::{RawQuery, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};

use crate::component::{Pad, TextField, Width};
use crate::desk::{Frame, Kept, ScreenSize};
use crate::form::{Form, FormProblem, Presence};
use crate::sign_on::Door;
use crate::{AppState, WebError, page};

/// Fits every screen, and a millimetre more or less is told by any ruler.
const LINE_MM: i64 = 40;
/// Half a millimetre of the line.
const STEP_HUNDREDTHS: i64 = 6;
const MEASURED: (&str, &str) = ("measured", "How long is it by your ruler, in mm?");
const SIZE: &str = "size";

#[derive(Template)]
#[template(path = "screen_size.html")]
struct ScreenSizePage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    saved: bool,
    line_mm: i64,
    line_px: String,
    size: String,
    measured: TextField,
    /// The sizes that make the line a little shorter and longer.
    smaller: Option<String>,
    larger: Option<String>,
}

/// GET /screen-size
pub(crate) async fn show(
    State(state): State<AppState>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let door = Door::find(&state, &headers).await?;
    Ok(draw(&state, &door, &form))
}

/// POST /screen-size
pub(crate) async fn submit(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let door = Door::find(&state, &headers).await?;
    let Some(size) = read(&mut form, &door) else {
        let page = draw(&state, &door, &form);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let mut response = Redirect::to("/screen-size?saved=yes").into_response();
    let kept = door.cookies.keep(Kept::ScreenSize, &size.code());
    response.headers_mut().extend(kept);
    Ok(response)
}

fn drawn(form: &Form, door: &Door) -> ScreenSize {
    ScreenSize::from_code(form.typed(SIZE))
        .or(door.cookies.look().size)
        .unwrap_or(ScreenSize::USUAL)
}

fn read(form: &mut Form, door: &Door) -> Option<ScreenSize> {
    let size = drawn(form, door);
    form.ask(SIZE);
    let typed = form.line(MEASURED, Presence::Optional);
    form.refuse_what_was_not_asked();
    let Some(typed) = typed else {
        return form.is_good().then_some(size);
    };
    let measured = tenths(&typed).and_then(|tenths| size.measured(LINE_MM, tenths));
    if measured.is_none() {
        form.note(
            MEASURED.0,
            MEASURED.1,
            format!(
                "\"{typed}\" mm is no length this line can have; measure it with a ruler, like 38.5"
            ),
        );
    }
    measured.filter(|_| form.is_good())
}

/// "38.5" or "38,5" in tenths of a millimetre.
fn tenths(typed: &str) -> Option<i64> {
    let typed = typed.trim().trim_end_matches("mm").trim_end();
    let (whole, part) = typed.split_once(['.', ',']).unwrap_or((typed, "0"));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if part.len() != 1 || whole.is_empty() || whole.len() > 4 || !digits(whole) || !digits(part) {
        return None;
    }
    format!("{whole}{part}").parse().ok()
}

fn draw(state: &AppState, door: &Door, form: &Form) -> Response {
    let size = drawn(form, door);
    let step = |by: i64| {
        let stepped = ScreenSize::new(size.hundredths().saturating_add(by));
        stepped.map(|size| format!("/screen-size?size={}", size.code()))
    };
    let title = if form.is_good() {
        "Set screen size"
    } else {
        "Not saved: set screen size"
    };
    page::shown(&ScreenSizePage {
        frame: Frame::bare(title, state.mark, door.cookies.look()).on(door.tablet_id()),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        saved: form.typed("saved") == "yes",
        line_mm: LINE_MM,
        line_px: size.pixels(LINE_MM),
        size: size.code(),
        measured: TextField {
            pad: Pad::Decimal,
            ..form.text_field(MEASURED, "Leave it empty when it is right.", Width::Ten)
        },
        smaller: step(-STEP_HUNDREDTHS),
        larger: step(STEP_HUNDREDTHS),
    })
}

#[cfg(test)]
mod tests {
    use super::tenths;

    #[test]
    fn a_length_is_read_to_a_tenth_of_a_millimetre() {
        for (typed, read) in [
            ("40", Some(400)),
            ("38.5", Some(385)),
            (" 38,5 mm", Some(385)),
            ("38.55", None),
            ("-4", None),
            ("", None),
            (".5", None),
            ("forty", None),
        ] {
            assert_eq!(tenths(typed), read, "{typed}");
        }
    }
}

//! A page's text as HTML. The texts come with the program; HTML in them is shown as text all the same.

use maud::{Markup, PreEscaped};
use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, TagEnd, html};

use crate::urls;

/// Draws a text in the common mark-up of the files in `docs/`, tables among it.
pub(super) fn html(text: &str) -> Markup {
    let mut events: Vec<Event<'_>> = Parser::new_ext(text, Options::ENABLE_TABLES)
        .map(led_home)
        .collect();
    name_headings(&mut events);
    let mut out = String::new();
    html::push_html(&mut out, keep_tables_within(events).into_iter());
    PreEscaped(out)
}

/// Leads links between files of `docs/` to their pages, and to the pictures.
fn led_home(event: Event<'_>) -> Event<'_> {
    let mut event = match event {
        Event::Html(text) | Event::InlineHtml(text) => Event::Text(text),
        other => other,
    };
    if let Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) = &mut event {
        *dest_url = address(dest_url).into();
    }
    event
}

fn address(link: &str) -> String {
    if let Some(picture) = link.strip_prefix("pictures/") {
        return urls::handbook_picture(picture);
    }
    let (path, heading) = link.split_at(link.find('#').unwrap_or(link.len()));
    match path.strip_suffix(".md") {
        Some(name) if !name.contains(['/', ':']) => urls::handbook(name) + heading,
        _ => link.to_owned(),
    }
}

/// Gives each heading its words as its name, so that a link can lead to it.
fn name_headings(events: &mut [Event<'_>]) {
    for at in 0..events.len() {
        let words: String = match events.get(at) {
            Some(Event::Start(Tag::Heading { .. })) => events[at..]
                .iter()
                .take_while(|event| !matches!(event, Event::End(TagEnd::Heading(_))))
                .filter_map(|event| match event {
                    Event::Text(text) | Event::Code(text) => Some(text.as_ref()),
                    _ => None,
                })
                .collect(),
            _ => continue,
        };
        if let Some(Event::Start(Tag::Heading { id, .. })) = events.get_mut(at) {
            *id = Some(CowStr::from(slug(&words)));
        }
    }
}

/// A heading's words as readers of such files make addresses of them: small letters, hyphens for spaces.
fn slug(words: &str) -> String {
    words
        .chars()
        .filter_map(|c| match c {
            ' ' | '-' => Some('-'),
            c if c.is_alphanumeric() || c == '_' => Some(c.to_ascii_lowercase()),
            _ => None,
        })
        .collect()
}

/// Wide tables scroll by themselves, so that the page does not.
fn keep_tables_within(events: Vec<Event<'_>>) -> Vec<Event<'_>> {
    let mut out = Vec::with_capacity(events.len());
    for event in events {
        match event {
            Event::Start(Tag::Table(_)) => {
                out.push(Event::Html("<div class=\"table-wrap\">".into()));
                out.push(event);
            }
            Event::End(TagEnd::Table) => {
                out.push(event);
                out.push(Event::Html("</div>".into()));
            }
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(text: &str) -> String {
        html(text).into_string()
    }

    #[test]
    fn links_between_files_lead_to_pages() {
        assert!(drawn("[b](backup.md)").contains("href=\"/handbook/backup\""));
        assert!(drawn("[b](words.md#a-b)").contains("href=\"/handbook/words#a-b\""));
        assert!(drawn("![b](pictures/bench.png)").contains("src=\"/handbook/pictures/bench.png\""));
        assert!(drawn("[b](https://x.example/y.md)").contains("href=\"https://x.example/y.md\""));
    }

    #[test]
    fn html_in_a_text_is_shown_as_text() {
        let html = drawn("a <b onclick=x>b</b>\n\n<script>x</script>\n");
        assert!(!html.contains("<b ") && !html.contains("<script"), "{html}");
        assert!(html.contains("&lt;script"), "{html}");
    }

    #[test]
    fn headings_have_names_and_tables_stay_within() {
        assert!(drawn("## `[part.ID]` and more").contains("id=\"partid-and-more\""));
        let table = drawn("| a | b |\n| --- | --- |\n| 1 | 2 |\n");
        assert!(
            table.starts_with("<div class=\"table-wrap\"><table>"),
            "{table}"
        );
        assert!(table.trim_end().ends_with("</table>\n</div>"), "{table}");
    }
}

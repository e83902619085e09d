//! Every page of the demo's bench is held against the rules of accessibility, in daylight and at a dim bench.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use fantoccini::Client;
use fantoccini::wd::PrintConfiguration;
use serde::Deserialize;

use crate::driver::{Browser, Light, Served, fettle, serve};
use crate::page::Page;
use crate::try_fetch;

/// The rules: axe-core, see the README beside it.
const AXE: &str = include_str!("axe/axe.min.js");

/// Runs the rules of WCAG 2.2 AA, and those on headings and regions, over the page that is open.
const RULES: &str = r"
    const done = arguments[arguments.length - 1];
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
    axe.run(document, { runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] })
        .then(found => done(found.violations.map(it => ({
            rule: it.id + ': ' + it.help,
            places: it.nodes.slice(0, 4).map(node => node.html.slice(0, 200) + ' – ' + node.failureSummary.replace(/\s+/g, ' ').slice(0, 220)),
        }))))
        .catch(error => done([{ rule: 'the rules could not be run: ' + error, places: [] }]));";

/// What is pressed or written into, is seen, and is lower than a thumb needs. A link in a sentence may be (WCAG 2.2, 2.5.8), so
/// only those that stand by themselves are asked. What lies within a label is as large as the label.
const SMALL_TARGETS: &str = r"
    const least = 43.5;
    const what = 'button, input:not([type=hidden]), select, textarea, summary, nav a, .ways a, .button';
    return [...document.querySelectorAll(what)].filter(it => {
        if (!it.checkVisibility({ visibilityProperty: true }) || it.closest('.unseen')) return false;
        const height = it.getBoundingClientRect().height;
        const label = it.labels && it.labels[0] ? it.labels[0].getBoundingClientRect().height : 0;
        const own = it.matches('[type=checkbox], [type=radio]') ? Math.max(height, label) : height;
        return height > 0 && own < least;
    }).slice(0, 6).map(it => Math.round(it.getBoundingClientRect().height) + ' px: ' + it.outerHTML.slice(0, 140));";

/// Where the order of the keyboard is not the page's, and what makes the page wider than the window.
const ORDER_AND_WIDTH: &str = r"
    const odd = [...document.querySelectorAll('[tabindex]')].filter(it => it.tabIndex > 0)
        .map(it => 'comes out of turn: ' + it.outerHTML.slice(0, 140));
    const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
    if (wide > 0) {
        const edge = document.documentElement.clientWidth + 1;
        const one = [...document.querySelectorAll('main *')].find(it => it.getBoundingClientRect().right > edge && !it.closest('.table-wrap, .chart, svg'));
        odd.push('wider than the window by ' + wide + ' px' + (one ? ': ' + one.outerHTML.slice(0, 140) : ''));
    }
    return odd;";

/// Sends the form of an address with nothing in it, as if no field had been filled in.
const SEND_EMPTY: &str = r"
    const form = [...document.forms].find(it => it.getAttribute('action') === arguments[0]);
    for (const field of form.elements) {
        if (field.matches('[type=checkbox], [type=radio]')) field.checked = false;
        else if (field.matches('input:not([type=hidden]), textarea')) field.value = '';
    }
    HTMLFormElement.prototype.submit.call(form);";

#[derive(Debug, Deserialize)]
struct Violation {
    rule: String,
    places: Vec<String>,
}

/// The demo's bench, served.
pub(crate) fn demo(folder: &std::path::Path) -> Served {
    let bench = folder.join("demo");
    fettle(&["demo", bench.to_str().expect("UTF-8"), "--no-serve"]);
    serve(&bench)
}

/// An address without what changes from one thing to the next of its kind: `/visits/12?open=cause` is `/visits/N?open=cause`.
fn kind_of(url: &str) -> String {
    let (path, query) = url.split_once('?').unwrap_or((url, ""));
    let mut steps: Vec<String> = path.split('/').map(str::to_owned).collect();
    for step in &mut steps {
        if !step.is_empty() && step.bytes().all(|b| b.is_ascii_digit()) {
            "N".clone_into(step);
        }
    }
    // A model's or part's own name.
    if let ["", "models", name] | ["", "drawers", "parts", name] =
        steps.iter().map(String::as_str).collect::<Vec<_>>()[..]
    {
        let at = steps.iter().position(|step| step == name).unwrap_or(0);
        "ID".clone_into(&mut steps[at]);
    }
    let asked: BTreeSet<String> = query
        .split('&')
        .filter(|pair| !pair.is_empty())
        .map(|pair| match pair.split_once('=') {
            Some(("open", _)) | None => pair.to_owned(),
            Some((name, _)) => format!("{name}="),
        })
        .collect();
    let asked: Vec<String> = asked.into_iter().collect();
    format!("{}?{}", steps.join("/"), asked.join("&"))
}

/// Where a page leads to within the site.
fn links(html: &str) -> Vec<String> {
    html.split("href=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .filter(|link| link.starts_with('/') && !link.starts_with("//"))
        .map(|link| link.split('#').next().unwrap_or(link).replace("&amp;", "&"))
        .collect()
}

/// Where the forms of a page that change something are sent to.
fn forms(html: &str) -> Vec<String> {
    let heads = html.split("<form ").skip(1);
    let heads = heads.filter_map(|rest| rest.split('>').next());
    let posted = heads.filter(|head| head.contains("method=\"post\""));
    posted
        .filter_map(|head| head.split("action=\"").nth(1)?.split('"').next())
        .map(|action| action.replace("&amp;", "&"))
        .collect()
}

/// One form of each kind, with the page that it stands on.
fn forms_of(site: &str) -> Vec<(String, String)> {
    let mut by_kind = BTreeMap::new();
    for url in pages_of(site) {
        let Some((_, body)) = try_fetch(site, &url) else {
            panic!("{url} does not answer a second time");
        };
        for action in forms(&String::from_utf8_lossy(&body)) {
            let form = (url.clone(), action.clone());
            by_kind.entry(kind_of(&action)).or_insert(form);
        }
    }
    by_kind.into_values().collect()
}

/// One page of each kind that can be reached by links, and every stage at which a visit stands.
fn pages_of(site: &str) -> Vec<String> {
    let mut by_kind: BTreeMap<String, String> = BTreeMap::new();
    let mut coming = VecDeque::from(["/".to_owned()]);
    while let Some(url) = coming.pop_front() {
        let kind = kind_of(&url);
        // Visits differ by their stage: a dozen of those on the first page are looked at.
        let room = if kind == "/visits/N?" { 12 } else { 1 };
        let same = by_kind
            .keys()
            .filter(|known| known.split('#').next() == Some(&kind));
        if same.count() >= room || by_kind.values().any(|known| *known == url) {
            continue;
        }
        let Some((head, body)) = try_fetch(site, &url) else {
            panic!("{url} is linked to and does not answer");
        };
        // A paper for which something is missing answers with a page that says what.
        let answered = ["HTTP/1.1 200", "HTTP/1.1 400"];
        assert!(
            answered.iter().any(|status| head.starts_with(status)),
            "{url}: {head}"
        );
        if !head
            .to_ascii_lowercase()
            .contains("content-type: text/html")
        {
            continue;
        }
        coming.extend(links(&String::from_utf8_lossy(&body)));
        by_kind.insert(format!("{kind}#{}", by_kind.len()), url);
    }
    by_kind.into_values().collect()
}

/// What is wrong with the page that is open, each with its place.
async fn faults(browser: &Browser) -> Vec<String> {
    let client = &browser.client;
    client
        .execute(AXE, Vec::new())
        .await
        .expect("the rules load");
    let found = client
        .execute_async(RULES, Vec::new())
        .await
        .expect("the rules can be run");
    let found: Vec<Violation> = serde_json::from_value(found).expect("a list of violations");
    let mut told: Vec<String> = found
        .into_iter()
        .map(|it| format!("{}\n      {}", it.rule, it.places.join("\n      ")))
        .collect();
    for script in [SMALL_TARGETS, ORDER_AND_WIDTH] {
        let found = client.execute(script, Vec::new()).await.expect("readable");
        let found: Vec<String> = serde_json::from_value(found).expect("a list of places");
        told.extend(found);
    }
    told.sort();
    told.dedup();
    told
}

/// Goes through all pages and tells everything at the end.
async fn hold_every_page(width: u32, height: u32, light: Light) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let served = demo(folder.path());
    let pages = pages_of(&served.address);
    assert!(pages.len() > 60, "{pages:?}");
    let browser = Browser::start_in(width, height, light).await;
    let page = Page::of(&browser.client, &served.address);
    let mut told = Vec::new();
    for url in &pages {
        page.go(url).await;
        told.extend(
            faults(&browser)
                .await
                .into_iter()
                .map(|it| format!("{url}: {it}")),
        );
    }
    drop(browser.client.clone().close().await);
    assert_none(&told);
}

fn assert_none(told: &[String]) {
    assert!(
        told.is_empty(),
        "{} faults:\n{}",
        told.len(),
        told.join("\n")
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_keeps_the_rules_on_a_laptop_in_daylight() {
    hold_every_page(1366, 768, Light::Day).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_keeps_the_rules_on_a_tablet_at_a_dim_bench() {
    hold_every_page(820, 1180, Light::Dim).await;
}

/// What a form that lacks something comes back as: no link leads there.
#[tokio::test(flavor = "multi_thread")]
async fn every_refused_form_keeps_the_rules() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let served = demo(folder.path());
    let forms = forms_of(&served.address);
    let browser = Browser::start_in(820, 1180, Light::Day).await;
    let page = Page::of(&browser.client, &served.address);
    let (mut told, mut refused) = (Vec::new(), 0);
    for (url, action) in &forms {
        page.go(url).await;
        // A form sent before may have changed what stands on this page.
        if page.count(&format!("form[action=\"{action}\"]")).await == 0 {
            continue;
        }
        page.run_for_page(SEND_EMPTY, action).await;
        if page.count("[role=alert]").await > 0 {
            refused += 1;
            let faults = faults(&browser).await.into_iter();
            told.extend(faults.map(|it| format!("{action} from {url}: {it}")));
        }
    }
    drop(browser.client.clone().close().await);
    assert!(
        refused > 20,
        "only {refused} of {} forms were refused",
        forms.len()
    );
    assert_none(&told);
}

/// A page with faults of each kind is told, so that silence means something.
#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_breaks_the_rules_is_told() {
    let browser = Browser::start_in(820, 1180, Light::Day).await;
    let spoilt = "data:text/html,<html lang=en><title>x</title><main><h1>x</h1><h3>y</h3>\
        <p style='color:%23999;background:%23aaa'>pale</p><input><button tabindex=3 style='height:20px'>b</button>\
        <div style='width:2000px'>wide</div></main></html>";
    browser.client.goto(spoilt).await.expect("it opens");
    let told = faults(&browser).await.join("\n");
    for wanted in [
        "color-contrast",
        "label",
        "heading-order",
        "px: <button",
        "comes out of turn",
        "wider than the window",
    ] {
        assert!(told.contains(wanted), "no {wanted} in: {told}");
    }
    drop(browser.client.clone().close().await);
}

/// The page as the browser prints it, which on a busy machine now and then fails at once.
async fn printed(client: &Client, url: &str) -> Vec<u8> {
    let mut failed = None;
    for _ in 0..3 {
        match client.print(PrintConfiguration::default()).await {
            Ok(pdf) => return pdf,
            Err(error) => failed = Some(error),
        }
    }
    panic!("{url} does not print: {failed:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_print_without_what_only_a_screen_needs() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let served = demo(folder.path());
    let browser = Browser::start(1366, 768).await;
    let page = Page::of(&browser.client, &served.address);
    // On paper: nothing to press, and nothing beyond the sheet's edge.
    let on_paper = r"
        const sheets = [...document.styleSheets].flatMap(sheet => [...sheet.cssRules]);
        for (const rule of sheets)
            if (rule instanceof CSSMediaRule && rule.conditionText === 'print') rule.media.mediaText = 'all';
        document.body.style.width = '174mm';
        return [...document.querySelectorAll('header, footer, nav, button, .skip')].filter(it => it.checkVisibility())
            .map(it => it.outerHTML.slice(0, 120));";
    for url in [
        "/visits/40",
        "/models/corran-66",
        "/learned",
        "/drawers",
        "/handbook/light-sensor",
        "/",
    ] {
        page.go(url).await;
        let printed = printed(&browser.client, url).await;
        assert!(printed.starts_with(b"%PDF-"), "{url}");
        let left = browser.client.execute(on_paper, Vec::new()).await;
        let left: Vec<String> = serde_json::from_value(left.expect("readable")).expect("a list");
        assert!(left.is_empty(), "{url} prints {left:?}");
    }
    drop(browser.client.clone().close().await);
}

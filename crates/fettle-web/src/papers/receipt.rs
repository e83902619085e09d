//! The arrival receipt.

use fettle_bench::Stage;
use fettle_papers::{Amount, ArrivalReceipt, Pdf, arrival_receipt};

use super::{From, lines};

pub(super) fn receipt(from: &From<'_>) -> Result<Pdf, String> {
    let arrival = &from.view.arrival;
    let receipt = ArrivalReceipt {
        language: from.language,
        bench: from.bench(),
        visit: from.visit(),
        owner: from.owner(),
        camera: from.camera(),
        arrived: arrival.arrived,
        issued: from.today,
        came_with: arrival.came_with.clone(),
        condition: lines(&arrival.condition),
        owners_words: lines(&arrival.words),
        wanted: lines(&arrival.wanted),
        declared: arrival.declared.map(|money| Amount {
            amount: money.amount.to_string(),
            currency: money.currency.to_string(),
        }),
        photographs: from.photographs(|photo| photo.what.stage == Stage::Arrived),
        terms: Vec::new(),
    };
    arrival_receipt(&receipt, from.size).map_err(|error| error.to_string())
}

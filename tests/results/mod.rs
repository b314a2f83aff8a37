//! Results over HTTP: what they come with, and what holds them.

mod budgets;
mod control_rules;
mod lot_doubt;

use crate::harness::callers::TestApp;

/// Waits until the service has computed what was asked for again.
pub(crate) async fn computed_again(app: &TestApp) {
    let due = "SELECT count(*) FROM results_recomputation";
    for _ in 0..400 {
        if app.count(due).await == 0 {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(25)).await;
    }
    unreachable!("what was asked for was not computed again");
}

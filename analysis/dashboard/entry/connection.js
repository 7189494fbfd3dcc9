// The connection to Streamlit's server, as the page around us shows it, and how what waits is sent over it.

const AGAIN_AFTER_MS = 3000;
const MOST_AT_ONCE = 500;

// Unknown states (another version, another page around us) count as connected.
function isConnected() {
  const app = document.querySelector('[data-testid="stApp"]');
  const state = app && app.getAttribute("data-test-connection-state");
  return !state || state === "CONNECTED";
}

// A run of the whole page: a server that was started anew does not know the
// fragment we are in and passes over what is sent from it.
function askForWholeRun() {
  const key = { key: "r", code: "KeyR", keyCode: 82, which: 82, bubbles: true };
  document.body.dispatchEvent(new KeyboardEvent("keydown", key));
  document.body.dispatchEvent(new KeyboardEvent("keyup", key));
}

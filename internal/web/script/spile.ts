import { Kept } from "./kept"
import { Live } from "./live"
import { goOnWithEnter } from "./next"
import { addSteppers } from "./stepper"
import { addStrips, Strips } from "./strips"
import { answerTries } from "./try"

// Live first: it notes what the server sent before anything else adds to it.
customElements.define("spile-live", Live)
customElements.define("spile-strips", Strips)
const add = () => {
  addSteppers(document)
  addStrips()
}
add()
document.addEventListener("spile-renewed", add)
answerTries()
goOnWithEnter()
new Kept().start()

// Only https and this machine itself may keep pages for when the server is away.
if (isSecureContext && "serviceWorker" in navigator) {
  navigator.serviceWorker.register("/worker.js").catch((e: unknown) => console.info("not kept for later:", e))
}

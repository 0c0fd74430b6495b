const STAY_MS = 20000;
const RENEW_MS = 300000;
const scenes = [...document.querySelectorAll("article")];
const began = Date.now();
let place = 0;
let isStopped = false;

function turn(to) {
  place = (to + scenes.length) % scenes.length;
  scenes.forEach((scene, number) => scene.classList.toggle("on", number === place));
}

async function renew() {
  if (location.protocol === "file:") return location.reload();
  // A screen that lost its network keeps what it shows.
  const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
  if (answer && answer.ok) location.reload();
}

document.body.classList.add("playing");
turn(0);
setInterval(() => {
  if (isStopped) return;
  turn(place + 1);
  if (place === 0 && Date.now() - began >= RENEW_MS) renew();
}, STAY_MS);
if (scenes.length === 1) setInterval(renew, RENEW_MS);
document.addEventListener("keydown", (event) => {
  if (event.key === " ") { isStopped = !isStopped; event.preventDefault(); }
  if (event.key === "ArrowRight") turn(place + 1);
  if (event.key === "ArrowLeft") turn(place - 1);
});

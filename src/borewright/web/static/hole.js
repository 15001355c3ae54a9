// A tap on the living section opens what is known at that depth and starts the forms there; on a phone it is drawn anew for its box.
const hole = document.getElementById("hole");
const depthAt = (svg, event) => {
  const marked = event.target.closest("[data-depth]");
  if (marked && marked.dataset.depth !== "") return Number(marked.dataset.depth);
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return (point.y - Number(svg.dataset.groundY)) / Number(svg.dataset.scale);
};

async function fitted() {
  const svg = hole.querySelector("svg");
  if (!window.matchMedia("(max-width: 860px)").matches) return;
  const answer = await fetch(`/jobs/${hole.dataset.job}/section?width=${hole.clientWidth - 12}&height=${Math.round(window.innerHeight * 0.38)}`).catch(() => null);
  if (answer && answer.ok) svg.outerHTML = await answer.text();
}

hole.addEventListener("click", (event) => {
  const svg = event.target.closest("svg");
  if (!svg || !svg.dataset.scale) return;
  const depth = depthAt(svg, event);
  if (depth >= 0) location.href = `/jobs/${hole.dataset.job}/rig?depth=${depth.toFixed(1)}`;
});
fitted();
const stage = document.querySelector(".stages [aria-current]");
if (stage) stage.parentElement.scrollLeft = stage.offsetLeft - 90;

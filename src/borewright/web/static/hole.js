// A tap on the living section opens what is known at that depth and starts the forms there.
const hole = document.getElementById("hole");
const svg = hole && hole.querySelector("svg");
if (svg && svg.dataset.scale) {
  const depthAt = (event) => {
    const marked = event.target.closest("[data-depth]");
    if (marked && marked.dataset.depth !== "") return Number(marked.dataset.depth);
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return (point.y - Number(svg.dataset.groundY)) / Number(svg.dataset.scale);
  };
  svg.addEventListener("click", (event) => {
    const depth = depthAt(event);
    if (!(depth >= 0)) return;
    location.href = `/jobs/${hole.dataset.job}/rig?depth=${depth.toFixed(1)}`;
  });
}

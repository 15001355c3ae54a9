// The result follows the fields; without this script the button does the same.
const form = document.getElementById("bench");
const result = document.getElementById("result");
let last = 0;
let waiting = 0;
async function work() {
  const mine = ++last;
  const answer = await fetch(form.action, { method: "POST", headers: { "x-part": "result" }, body: new FormData(form) }).catch(() => null);
  if (answer && mine === last && (answer.ok || answer.status === 422)) result.innerHTML = await answer.text();
}
form.addEventListener("input", () => {
  const needed = [...form.querySelectorAll(".field")].some((f) => f.querySelector(".must") && !f.querySelector("input,select").value.trim());
  clearTimeout(waiting);
  if (!needed) waiting = setTimeout(work, 250);
});

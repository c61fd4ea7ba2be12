// @ts-check
/* A score dropped on the page is brought in as if it had been chosen. */

const form = /** @type {HTMLFormElement} */ (document.querySelector("[data-drop]"));
const field = /** @type {HTMLInputElement} */ (form.querySelector("input[type=file]"));

document.addEventListener("dragover", (event) => {
  if (!event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault();
  document.body.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => {
  if (event.relatedTarget === null) document.body.classList.remove("dropping");
});
document.addEventListener("drop", (event) => {
  const files = event.dataTransfer?.files;
  document.body.classList.remove("dropping");
  if (!files?.length) return;
  event.preventDefault();
  field.files = files;
  form.requestSubmit();
});

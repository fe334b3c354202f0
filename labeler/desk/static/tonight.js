// Says what is counted so far; the form works without it.
const form = document.querySelector("form.tying");
const sum = document.getElementById("sum");

const count = () => {
  const counted = [...form.querySelectorAll("input[name^='n-']")]
    .map((field) => Number(field.value.trim()))
    .filter((number) => Number.isInteger(number) && number > 0);
  const jigs = counted.reduce((all, number) => all + number, 0);
  sum.textContent = counted.length
    ? `${jigs} ${jigs === 1 ? "jig" : "jigs"} in ${counted.length} ${counted.length === 1 ? "lot" : "lots"}.`
    : "";
};

form.addEventListener("input", count);
count();

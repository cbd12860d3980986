// What the whole page does by script: it says that scripts run, and offers its data as a file.
(() => {
"use strict";

document.documentElement.classList.add("scripted");

const link = document.getElementById("download");
link.href = URL.createObjectURL(new Blob([document.getElementById("data").textContent], {type: "application/json"}));
})();

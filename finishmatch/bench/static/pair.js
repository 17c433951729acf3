// The code of the squares stands behind the # of the address, so that it is sent nowhere: it is put into the form.

const code = location.hash.slice(1).replace(/\D/g, "");
const field = document.getElementById("code");
if (code && field) {
  field.value = `${code.slice(0, 4)} ${code.slice(4)}`;
  history.replaceState(null, "", location.pathname);
}

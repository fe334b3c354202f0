"""What is typed on a page is handed over here by its script, asked for again, or left."""

from __future__ import annotations

from starlette.responses import JSONResponse, Response

from labeler.desk.page import Ask, DeskPage, PageRoute


def _form(ask: Ask) -> tuple[str, dict[str, list[str]]]:
    """Return the path within the desk that a form is sent to, and its fields."""
    root = str(ask.request.scope["root_path"])
    fields = {name: list(texts) for name, texts in ask.fields.items()
              if not name.startswith("draft-")}  # fmt: skip
    return ask.text("draft-form").removeprefix(root), fields


def _keep(ask: Ask) -> Response:
    """Keep what stands in a form that is not sent yet."""
    form, fields = _form(ask)
    if form.startswith("/"):
        ask.desk.drafts.keep(form, fields, ask.texts("draft-off"))
    return Response(status_code=204)


def _find(ask: Ask) -> Response:
    """Give what was typed into a form when it was last open."""
    draft = ask.desk.drafts.find(*_form(ask))
    if draft is None:
        return Response(status_code=204)
    return JSONResponse({"fields": draft.fields, "off": draft.off})


def _drop(ask: Ask) -> Response:
    """Forget what was typed into a form."""
    ask.desk.drafts.drop(*_form(ask))
    return Response(status_code=204)


PAGE = DeskPage(
    "",
    (
        PageRoute("/draft", _keep, post=True),
        PageRoute("/draft/find", _find, post=True),
        PageRoute("/draft/drop", _drop, post=True),
    ),
)

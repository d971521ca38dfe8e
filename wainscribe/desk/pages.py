"""The pages as shells: what they show they fetch by JSON."""

from urllib.parse import quote

from flask import Blueprint, Response, current_app, g, make_response, redirect, render_template, request, send_file
from flask.typing import ResponseReturnValue
from markupsafe import Markup
from werkzeug.exceptions import HTTPException, NotFound

from report.cardsheet import PAPERS, cards_pdf
from wainscribe.desk.app import the_desk
from wainscribe.desk.guard import COOKIE, KEY_LIFE, SESSION_LIFE, only_here
from wainscribe.desk.phone import code_of
from wainscribe.desk.tasks import papers_of

pages = Blueprint("pages", __name__)
CARDS = 12  # to print: the most that a long wall wants


def _shell(template: str, job: str = "", wall: str = "", **more: object) -> Response:
    name = the_desk().home.job(job).load().name if job else ""
    page = render_template(template, token=g.token, job=job, job_name=name, wall=wall, local=g.here, **more)
    response = make_response(page)
    response.headers["Cache-Control"] = "private, no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response


@pages.get("/")
def front() -> ResponseReturnValue:
    """All jobs, or straight to the one."""
    home = the_desk().home
    if home.single:
        return redirect(f"/job/{quote(next(iter(home.jobs())), safe='')}")
    return _shell("jobs.html")


@pages.get("/job/<job>")
def walk(job: str) -> Response:
    """The walk round the rooms of a job."""
    return _shell("job.html", job)


@pages.get("/job/<job>/wall/<path:wall>")
def one_wall(job: str, wall: str) -> Response:
    """One wall; a wall just added may still be on its way from this browser, so any name will do."""
    return _shell("wall.html", job, wall)


@pages.get("/job/<job>/plan")
def plan(job: str) -> Response:
    """Planning."""
    return _shell("plan.html", job)


@pages.get("/job/<job>/papers")
def papers(job: str) -> Response:
    """The papers."""
    return _shell("papers.html", job)


@pages.get("/job/<job>/papers/<file>")
def paper(job: str, file: str) -> Response:
    """One paper, by the listing of what was made."""
    known = {path.name: path for path in papers_of(the_desk().home.job(job))}
    if file not in known:
        raise NotFound
    response = send_file(known[file], download_name=file)
    del response.headers["Cache-Control"]  # kept by no browser: a paper holds names and addresses
    return response


@pages.get("/job/<job>/cards.pdf")
def cards(job: str) -> Response:
    """Reference cards to print, on the job's paper: a number may stand on every wall once."""
    now = the_desk().home.job(job).load()
    made = cards_pdf(range(1, CARDS + 1), PAPERS[now.paper], now.print_run.name)
    return Response(made, mimetype="application/pdf")


@pages.get("/phone")
def phone() -> Response:
    """How the phone comes in."""
    only_here()
    desk = the_desk()
    key = desk.guard.new_key()
    address = desk.addresses[0] if desk.addresses else ""
    code = Markup(code_of(f"{address}/key/{key}")) if address else ""
    shown = f"{key[:5]}-{key[5:]}"
    return _shell("phone.html", qr=code, address=address, key=shown, minutes=int(KEY_LIFE // 60))


@pages.route("/key", methods=["GET", "POST"])
def enter_key() -> ResponseReturnValue:
    """A key typed by hand."""
    if request.method == "GET":
        return _shell("key.html", error="")
    try:
        return _let_in(request.form.get("key", ""))
    except HTTPException as refused:
        response = _shell("key.html", error=refused.description or "")
        response.status_code = refused.code or 400
        return response


@pages.get("/key/<key>")
def use_key(key: str) -> ResponseReturnValue:
    """A key from the code that the laptop shows; looking ahead does not spend it."""
    if request.method != "GET" or "prefetch" in request.headers.get("Sec-Purpose", ""):
        return Response(status=204)
    return _let_in(key)


def _let_in(key: str) -> Response:
    session = the_desk().guard.exchange(key, request.remote_addr or "")
    # A page that goes on by itself, not a redirect: a strict cookie is not sent along one that another program began.
    response = make_response(render_template("in.html"))
    response.set_cookie(COOKIE, session, max_age=int(SESSION_LIFE), httponly=True, samesite="Strict")
    return response


@pages.get("/service-worker.js")
def worker() -> Response:
    """The service worker, at the root so that it serves all pages."""
    return current_app.send_static_file("service-worker.js")

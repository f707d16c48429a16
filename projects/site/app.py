"""The site as an app on a phone: how a phone comes to trust it, what it is called there, and what it keeps there.

Nothing of any workshop stands on these pages, so anybody may read them.
"""

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

from projects.site.authority import AUTHORITY_FILE, Authority

NIGHT = "#2b3036"  # the head of each page
ICONS = (
    ("icon-192.png", "192x192", "any"),
    ("icon-512.png", "512x512", "any"),
    ("icon-512.png", "512x512", "maskable"),
)
AUTHORITY_TYPE = "application/x-x509-ca-cert"  # by which phones know what to do with it


def authority() -> Authority | None:
    """The one of this installation, where it speaks TLS by itself."""
    folder = settings.TLS_FOLDER
    return Authority(folder) if settings.TLS_PORT and (folder / AUTHORITY_FILE).exists() else None


@require_safe
def trust(request: HttpRequest) -> HttpResponse:
    """Read over plain http, before a device trusts anything else of the site."""
    host = request.get_host()
    name = host if host.endswith("]") else host.rsplit(":", 1)[0]
    own = authority()
    context = {"authority": own, "address": f"https://{name}:{settings.TLS_PORT}/", "secure": request.is_secure()}
    return render(request, "projects/site/trust.html", context)


@require_safe
def authority_file(request: HttpRequest) -> HttpResponse:
    own = authority()
    if own is None:
        raise Http404("This installation has no certificate authority.")
    headers = {"Content-Disposition": 'attachment; filename="fettlebook-authority.crt"', "Cache-Control": "no-store"}
    return HttpResponse(own.as_download, content_type=AUTHORITY_TYPE, headers=headers)


@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone needs to keep the site among its apps (W3C, Web Application Manifest)."""
    icons = [
        {"src": static(f"projects/{name}"), "sizes": sizes, "type": "image/png", "purpose": purpose}
        for name, sizes, purpose in ICONS
    ]
    entry = {
        "id": "/",
        "name": "Fettlebook",
        "short_name": "Fettlebook",
        "description": "Blasted iron, recoat windows, and the log of every piece.",
        "start_url": reverse("day-sheet"),
        "scope": "/",
        "display": "standalone",
        "background_color": NIGHT,
        "theme_color": NIGHT,
        "icons": icons,
    }
    return JsonResponse(entry, content_type="application/manifest+json")


@require_safe
def offline_worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps the day sheet in a browser; it stands at the top, since it may only act below itself."""
    worker = render(request, "projects/site/offline-worker.js", content_type="text/javascript; charset=utf-8")
    worker["Cache-Control"] = "no-cache"
    return worker

"""Pages are sent compressed; photos and papers, which are compressed already, as they lie."""

from django.http import HttpRequest, HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class PageCompression(GZipMiddleware):
    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        return response if response.streaming else super().process_response(request, response)

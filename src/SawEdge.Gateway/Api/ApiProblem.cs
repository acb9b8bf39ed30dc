using Microsoft.AspNetCore.Http;

namespace SawEdge.Gateway.Api;

/// <summary>What is wrong with one parameter of a request.</summary>
/// <param name="Parameter">Its name.</param>
/// <param name="Detail">What is wrong, and what would be right.</param>
public sealed record ParameterProblem(string Parameter, string Detail);

/// <summary>Why a request was not answered: problem details after RFC 9457.</summary>
/// <param name="Type">What kind of problem it is: a URN.</param>
/// <param name="Title">The same in words; always the same for a type.</param>
/// <param name="Status">The status of the answer.</param>
/// <param name="Detail">What happened here, and what would help.</param>
/// <param name="Errors">What is wrong with which parameter; null: no parameter is.</param>
public sealed record ApiProblem(string Type, string Title, int Status, string Detail, IReadOnlyList<ParameterProblem>? Errors = null) : IResult
{
    private const string Prefix = "urn:sawedge:problem:";

    /// <summary>A request whose parameters are wrong.</summary>
    public static ApiProblem Parameters(IReadOnlyList<ParameterProblem> errors) =>
        new($"{Prefix}parameters", "The request cannot be understood", StatusCodes.Status400BadRequest, string.Join(" ", errors.Select(error => $"{error.Parameter}: {error.Detail}.")), errors);

    /// <summary>A request whose one parameter is wrong.</summary>
    public static ApiProblem Parameter(string name, string detail) => Parameters([new ParameterProblem(name, detail)]);

    /// <summary>A body that is none.</summary>
    public static ApiProblem Body(int status, string detail) => new($"{Prefix}body", "The body of the request cannot be understood", status, detail);

    /// <summary>Something that is not there.</summary>
    public static ApiProblem NotFound(string detail) => new($"{Prefix}not-found", "This is not there", StatusCodes.Status404NotFound, detail);

    /// <summary>A change that cannot be made as things are.</summary>
    public static ApiProblem Conflict(string detail) => new($"{Prefix}conflict", "Not done, as things are", StatusCodes.Status409Conflict, detail);

    /// <summary>A caller who is not known.</summary>
    public static ApiProblem Unauthorized(string detail) => new($"{Prefix}token", "A token is needed", StatusCodes.Status401Unauthorized, detail);

    /// <summary>A caller who may not.</summary>
    public static ApiProblem Forbidden(string detail) => new($"{Prefix}forbidden", "Not allowed", StatusCodes.Status403Forbidden, detail);

    /// <summary>Something that is not possible at the moment.</summary>
    public static ApiProblem NotNow(string detail) => new($"{Prefix}not-now", "Not at the moment", StatusCodes.Status503ServiceUnavailable, detail);

    /// <summary>Too many requests.</summary>
    public static ApiProblem TooMany(string detail) => new($"{Prefix}too-many", "Too many requests", StatusCodes.Status429TooManyRequests, detail);

    /// <summary>A problem of any status.</summary>
    public static ApiProblem Of(int status, string title, string detail) => new("about:blank", title, status, detail);

    /// <inheritdoc/>
    public Task ExecuteAsync(HttpContext httpContext)
    {
        var response = httpContext.Response;
        response.StatusCode = Status;
        response.ContentType = "application/problem+json";
        response.Headers.CacheControl = "no-store";
        return HttpMethods.IsHead(httpContext.Request.Method) ? Task.CompletedTask : System.Text.Json.JsonSerializer.SerializeAsync(response.Body, this, ApiJson.Options, httpContext.RequestAborted);
    }
}

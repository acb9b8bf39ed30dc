using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;

namespace SawEdge.Gateway.Api;

/// <summary>What a caller may do; each includes those before it.</summary>
public enum ApiRole
{
    /// <summary>See everything but the audit trail.</summary>
    View,

    /// <summary>Answer alarms, give reasons for stops, enter scrap and changes of blades.</summary>
    Operate,

    /// <summary>See the audit trail.</summary>
    Administer,
}

/// <summary>Who makes a request.</summary>
/// <param name="Name">Name of the token, or who sits at the machine.</param>
/// <param name="Role">What he may do.</param>
/// <param name="Remote">Where the request comes from.</param>
public sealed record ApiCaller(string Name, ApiRole Role, string Remote)
{
    /// <summary>The name of whoever works on the gateway's own machine without a token.</summary>
    public const string AtTheMachine = "gateway's own machine";

    /// <summary>Whether he may go on: an answer that lasts asks now and then, since a token may be revoked or run out meanwhile.</summary>
    public Func<CancellationToken, Task<bool>> MayGoOn { get; init; } = _ => Task.FromResult(true);

    /// <summary>The caller of a request that passed the gate.</summary>
    public static ApiCaller Of(HttpContext context) =>
        context.Items[typeof(ApiCaller)] as ApiCaller ?? throw new InvalidOperationException("This request passed no gate.");
}

/// <summary>What an endpoint asks of its caller.</summary>
/// <param name="Role">The least role.</param>
internal sealed record RoleNeeded(ApiRole Role);

/// <summary>An endpoint that stays open for as long as its reader wants.</summary>
internal sealed record LastingAnswer;

/// <summary>What endpoints say of themselves.</summary>
internal static class EndpointSayings
{
    /// <summary>Whoever asks needs at least this role; where nothing is said, <see cref="ApiRole.View"/>.</summary>
    public static T Needs<T>(this T endpoint, ApiRole role)
        where T : IEndpointConventionBuilder => endpoint.WithMetadata(new RoleNeeded(role));

    /// <summary>The answer lasts: an event stream.</summary>
    public static T Lasts<T>(this T endpoint)
        where T : IEndpointConventionBuilder => endpoint.WithMetadata(new LastingAnswer());
}
